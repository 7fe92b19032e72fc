// Package banks makes questions from a catalog. A [Kind] enumerates the sites
// of the catalog at which it can be asked and makes the question for a site;
// [Generate] walks the sites in a pseudo-random order that depends on the seed
// alone, and gives a stream of questions. The key of each is what the resolver
// finds; every wrong option is what it finds with one rule broken (a slip).
//
// A bank file holds one question a line as JSON. A question is complete in
// itself: text, options with their slips, key, short trace, cautions, and the
// query that computes the key again.
package banks
