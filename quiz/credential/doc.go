// Package credential signs certificates in open standards and checks them
// again, offline.
//
// A certificate becomes an Open Badges 3.0 credential (a W3C Verifiable
// Credential 2.0) signed with Ed25519 in two ways: as JSON with a Data
// Integrity proof of cryptosuite eddsa-jcs-2022, and as a JSON Web Token. The
// JSON is also carried by a PNG badge (an iTXt chunk, as Open Badges bakes
// images) and by the printed certificate (a PDF attachment). Revocation is a
// W3C Bitstring Status List. The issuer is a did:key or a did:web.
//
//	ring, err := credential.NewKeyring(now, rand.Reader) // once, at set-up
//	signer, err := ring.Signer()
//	bundle, err := signer.Issue(c, credential.IssueOptions{Now: now, PDF: pdf, PNG: badge})
//	// bundle.JSON, .JWT, .PDF, .PNG are handed out as they are and kept.
//
//	result, err := credential.VerifyFile(data, credential.Options{Now: time.Now(), Trusted: ring.Trusted()})
//	fmt.Println(result.Valid, result.Reason)
//
// # What a valid result covers
//
// JSON: every name and value. White space and the order of names carry no
// meaning and are not covered, except that what [Signer.Issue] writes has
// none to change: flipping any bit of it is noticed.
//
// JWT: every byte of the token. Encodings that decode alike are refused.
//
// PDF and PNG: every byte of the file. The credential holds the SHA-256 of
// the file as it was before the credential went in, and what was put in must
// be byte for byte what putting the credential into that file gives. Nobody
// can therefore print another name over a genuine credential. A PDF that a
// viewer has saved again no longer verifies, though nothing visible changed;
// the original does.
//
// Not covered: whether a supplement has outdated the certificate since, which
// only the issuer can tell (package certificate), and revocation without a
// status list at hand. Not covered either: paper. A photograph or a print proves nothing by itself; its
// QR code leads to the page that knows.
package credential
