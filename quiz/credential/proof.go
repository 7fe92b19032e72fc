package credential

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/mr-tron/base58"
)

const (
	proofType    = "DataIntegrityProof"
	cryptosuite  = "eddsa-jcs-2022"
	proofPurpose = "assertionMethod"
)

// dataIntegrityProof is a proof object (W3C vc-data-integrity 2.1) in the
// members that eddsa-jcs-2022 uses.
type dataIntegrityProof struct {
	Type               string          `json:"type"`
	Cryptosuite        string          `json:"cryptosuite"`
	Created            string          `json:"created,omitempty"`
	Expires            string          `json:"expires,omitempty"`
	VerificationMethod string          `json:"verificationMethod"`
	ProofPurpose       string          `json:"proofPurpose"`
	Context            json.RawMessage `json:"@context,omitempty"`
	ProofValue         string          `json:"proofValue,omitempty"`
}

// addProof signs a JSON document (W3C vc-di-eddsa 3.3.1, Create Proof) and
// returns it with the proof, in canonical form.
func addProof(document []byte, key ed25519.PrivateKey, method string, created time.Time) ([]byte, error) {
	unsecured, err := canonical(document)
	if err != nil {
		return nil, fmt.Errorf("credential: document to sign: %w", err)
	}
	members, err := objectMembers(unsecured)
	if err != nil {
		return nil, fmt.Errorf("credential: document to sign: %w", err)
	}
	if _, ok := members["proof"]; ok {
		return nil, errors.New("credential: document to sign: it has a proof already")
	}
	proof := dataIntegrityProof{
		Type: proofType, Cryptosuite: cryptosuite, ProofPurpose: proofPurpose,
		Created: created.UTC().Format(time.RFC3339), VerificationMethod: method,
		Context: members["@context"],
	}
	config, err := canonicalOf(proof)
	if err != nil {
		return nil, err
	}
	proof.ProofValue = "z" + base58.Encode(ed25519.Sign(key, hashData(config, unsecured)))
	if members["proof"], err = json.Marshal(proof); err != nil {
		return nil, err
	}
	return canonicalOf(members)
}

// hashData is what is signed: the SHA-256 of the canonical proof options,
// then that of the canonical document (vc-di-eddsa 3.3.4, Hashing).
func hashData(config, document []byte) []byte {
	c, d := sha256.Sum256(config), sha256.Sum256(document)
	return append(c[:], d[:]...)
}

// signedDocument is a document taken apart for checking.
type signedDocument struct {
	canonical []byte             // the whole document
	unsecured []byte             // canonical, without its proof
	proof     dataIntegrityProof // as found
	config    []byte             // canonical proof options
	signature []byte
}

// parseSigned takes a signed JSON document apart (vc-di-eddsa 3.3.2, Verify
// Proof, up to the signature). All of the document and of the proof but the
// proofValue enters unsecured and config.
func parseSigned(data []byte) (*signedDocument, error) {
	whole, err := canonical(data)
	if err != nil {
		return nil, err
	}
	members, err := objectMembers(whole)
	if err != nil {
		return nil, err
	}
	rawProof, ok := members["proof"]
	if !ok {
		return nil, errUnsigned
	}
	// A set of proofs is not supported: a signature does not cover the other
	// proofs, so they could say anything.
	if bytes.HasPrefix(rawProof, []byte("[")) {
		var set []json.RawMessage
		if err := json.Unmarshal(rawProof, &set); err != nil || len(set) != 1 {
			return nil, errors.New("it has a set of proofs; exactly one is supported")
		}
		rawProof = set[0]
	}
	options, err := objectMembers(rawProof)
	if err != nil {
		return nil, fmt.Errorf("proof: %w", err)
	}
	doc := &signedDocument{canonical: whole}
	// Read by exact name: encoding/json would match "Type" to "type".
	for name, into := range map[string]*string{
		"type": &doc.proof.Type, "cryptosuite": &doc.proof.Cryptosuite, "created": &doc.proof.Created,
		"expires": &doc.proof.Expires, "verificationMethod": &doc.proof.VerificationMethod,
		"proofPurpose": &doc.proof.ProofPurpose, "proofValue": &doc.proof.ProofValue,
	} {
		if raw, ok := options[name]; ok {
			if err := json.Unmarshal(raw, into); err != nil {
				return nil, fmt.Errorf("proof: %s is not a text", name)
			}
		}
	}
	_, chained := options["previousProof"]
	switch p := doc.proof; {
	case p.Type != proofType || p.Cryptosuite != cryptosuite:
		return nil, fmt.Errorf("proof of type %q, cryptosuite %q is not supported; %s is", p.Type, p.Cryptosuite, cryptosuite)
	case p.ProofPurpose != proofPurpose:
		return nil, fmt.Errorf("proof for purpose %q, not %s", p.ProofPurpose, proofPurpose)
	case chained:
		return nil, errors.New("chained proofs are not supported")
	}
	if doc.signature, err = decodeSignature(doc.proof.ProofValue); err != nil {
		return nil, err
	}
	delete(options, "proofValue")
	if doc.config, err = canonicalOf(options); err != nil {
		return nil, err
	}
	delete(members, "proof")
	if proofContext, ok := options["@context"]; ok {
		// The cryptosuite lets a document gain contexts after signing. They
		// would change what its names mean, so they are refused here.
		if !bytes.Equal(members["@context"], proofContext) {
			return nil, errors.New("its @context is not the one that was signed")
		}
	}
	if doc.unsecured, err = canonicalOf(members); err != nil {
		return nil, err
	}
	return doc, nil
}

// verify checks the signature with key.
func (d *signedDocument) verify(key ed25519.PublicKey) bool {
	return ed25519.Verify(key, hashData(d.config, d.unsecured), d.signature)
}

var errUnsigned = errors.New("it has no proof: nobody signed it")

// decodeSignature reads a proofValue: base58btc of exactly 64 bytes.
func decodeSignature(value string) ([]byte, error) {
	if len(value) > 128 || len(value) < 2 || value[0] != 'z' {
		return nil, errors.New("the proofValue is not a base58btc Ed25519 signature")
	}
	raw, err := base58.Decode(value[1:])
	if err != nil || len(raw) != ed25519.SignatureSize {
		return nil, errors.New("the proofValue is not a base58btc Ed25519 signature")
	}
	return raw, nil
}

// objectMembers reads a JSON object into its members.
func objectMembers(data []byte) (map[string]json.RawMessage, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(data, &members); err != nil || members == nil {
		return nil, errors.New("not a JSON object")
	}
	return members, nil
}
