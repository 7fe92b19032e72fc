// Package qti writes questions as a 1EdTech QTI 3.0 package and reads such
// packages.
//
// A package is a zip archive: imsmanifest.xml, one item (items/ID.xml) a
// question, and beside each item what QTI has no place for (extension/ID.json).
// What people see and what decides the score stands in the item alone, so that
// any QTI system can ask it and an edit made there is seen when the package is
// read again:
//
//	form          interaction                  response                scored in the item by
//	one           qti-choice-interaction       single identifier       match with the key
//	some          qti-choice-interaction       multiple identifiers    mapping: share of hits less share of false marks
//	typed         qti-text-entry-interaction   single string           mapping, case ignored
//	number        qti-text-entry-interaction   single float            qti-equal with absolute tolerance; the unit stands beside the field
//	order         qti-order-interaction        ordered identifiers     match with the key
//	chase         several of the above         one for each step       mean of the steps
//
// Three things are the grader's own and cannot be said in QTI in reasonable
// space: partial credit for an order (there it is right or wrong), errors
// carried forward in a chase (there a step is right or wrong by itself), and the
// forgiving comparison of typed answers (there one must be among those listed,
// capitals aside). What an item scores is never more than what the grader gives. Every slip gives its feedback as qti-modal-feedback, and the trace
// is the model solution.
//
// The extension holds the question as a bank file does, less what the item
// holds. [Import] puts the two together again: what was exported comes back as
// it was, with the same ID. Items without an extension become plain questions
// without slips.
//
// # Sources
//
// Question and Test Interoperability (QTI) 3.0: Assessment, Section and Item
// Information Model, 1 May 2022; Best Practices and Implementation Guide 3.0;
// Metadata Specification 3.0; and the examples that 1EdTech publishes for them.
// The schema files themselves were not at hand. [Rules] writes down what they
// ask of the elements that are used here, each with its source, and [Validate]
// checks it.
package qti
