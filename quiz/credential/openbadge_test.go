package credential

import (
	"encoding/base64"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The terms of each type of node in Open Badges 3.0 (1EdTech,
// context-3.0.3.json) and in Verifiable Credentials 2.0 (W3C,
// credentials/v2), as far as a certificate may use them. A term outside its
// context would be dropped, or refused, by a JSON-LD reader.
var termsOfStandards = map[string][]string{
	"OpenBadgeCredential": {"@context", "id", "type", "name", "description", "issuer", "validFrom", "validUntil", "credentialSubject",
		"credentialStatus", "relatedResource", "evidence", "proof",
		// defined by the credential's own inline context
		"certificateNumber", "catalogTitle", "catalogRevision"},
	"Profile":            {"id", "type", "name", "url", "description", "image", "email", "official"},
	"AchievementSubject": {"id", "type", "achievement", "identifier", "result", "image", "source", "role", "term"},
	"IdentityObject":     {"type", "hashed", "identityHash", "identityType", "salt"},
	"Achievement": {"id", "type", "achievementType", "alignment", "creator", "criteria", "fieldOfStudy", "humanCode", "image",
		"otherIdentifier", "related", "resultDescription", "specialization", "tag", "version", "name", "description"},
	"ResultDescription":        {"id", "type", "name", "allowedValue", "requiredLevel", "requiredValue", "resultType", "rubricCriterionLevel", "valueMax", "valueMin"},
	"Result":                   {"type", "achievedLevel", "resultDescription", "status", "value"},
	"BitstringStatusListEntry": {"id", "type", "statusPurpose", "statusListIndex", "statusListCredential"},
	"DataIntegrityProof":       {"type", "cryptosuite", "created", "verificationMethod", "proofPurpose", "proofValue", "@context"},
	"criteria":                 {"id", "narrative"},
	"relatedResource":          {"id", "mediaType", "digestSRI", "digestMultibase"},
}

// Members that Open Badges 3.0 requires of each type (its data model, section
// AchievementCredential and following; from memory).
var requiredByOpenBadges = map[string][]string{
	"OpenBadgeCredential": {"@context", "id", "type", "issuer", "validFrom", "credentialSubject"},
	"Profile":             {"id", "type"},
	"AchievementSubject":  {"type", "achievement"},
	"IdentityObject":      {"type", "hashed", "identityHash", "identityType"},
	"Achievement":         {"id", "type", "criteria", "description", "name"},
	"ResultDescription":   {"id", "type", "name", "resultType"},
	"Result":              {"type"},
}

func TestCredentialSpeaksOpenBadges(t *testing.T) {
	s := testSigner(t, testRing(t))
	bundle, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt, PDF: smallPDF(t), PNG: smallPNG(t),
		OrganisationURL: "https://wexcombe.example", Status: NewStatusEntry("https://training.wexcombe.example/status/1", 7)})
	if err != nil {
		t.Fatal(err)
	}
	var document map[string]any
	if err := json.Unmarshal(bundle.JSON, &document); err != nil {
		t.Fatal(err)
	}
	// VC Data Model 2.0, section 4.3: the first context is this one.
	contexts := document["@context"].([]any)
	if contexts[0] != "https://www.w3.org/ns/credentials/v2" || contexts[1] != "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json" {
		t.Errorf("contexts %v", contexts)
	}
	seen := make(map[string]int)
	var walk func(path string, value any)
	walk = func(path string, value any) {
		switch v := value.(type) {
		case []any:
			for _, item := range v {
				walk(path, item)
			}
		case map[string]any:
			if path == "@context" {
				return
			}
			kind := path // nodes without a type go by the name of their member
			switch types := v["type"].(type) {
			case string:
				kind = types
			case []any:
				kind = types[len(types)-1].(string)
			}
			seen[kind]++
			for name, member := range v {
				if !slices.Contains(termsOfStandards[kind], name) {
					t.Errorf("%s (%s) has %q, which no context defines there", path, kind, name)
				}
				walk(name, member)
			}
			for _, name := range requiredByOpenBadges[kind] {
				if _, ok := v[name]; !ok {
					t.Errorf("%s (%s) lacks %q", path, kind, name)
				}
			}
		}
	}
	walk("", document)
	for kind := range termsOfStandards {
		if seen[kind] == 0 {
			t.Errorf("no %s in the credential", kind)
		}
	}
	// Identifiers are URIs; dates have a zone (VC Data Model 2.0, 4.4 and 4.9).
	for _, id := range []string{document["id"].(string), document["credentialSubject"].(map[string]any)["id"].(string)} {
		if !regexp.MustCompile(`^[a-z][a-z0-9+.-]*:\S+$`).MatchString(id) {
			t.Errorf("id %q is not a URI", id)
		}
	}
	for _, date := range []string{"validFrom", "validUntil"} {
		if !strings.HasSuffix(document[date].(string), "Z") {
			t.Errorf("%s %v", date, document[date])
		}
	}
}

// RFC 9562, section 5.8: a version 8 UUID has 8 in its version and 10 in its
// variant bits.
func TestStableUUID(t *testing.T) {
	pattern := regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	seen := make(map[string]bool)
	for _, parts := range [][]string{{}, {"a"}, {"a", "b"}, {"ab"}, {"a", "b", ""}} {
		id := stableUUID(parts...)
		if !pattern.MatchString(id) || seen[id] || id != stableUUID(parts...) {
			t.Errorf("%q: %s", parts, id)
		}
		seen[id] = true
	}
}

// RFC 6920, section 8.1 "Hello World!": the ni URI of a content. Its SRI form
// (W3C Subresource Integrity) is the same digest in padded base64.
func TestRelatedFileOfRFC6920(t *testing.T) {
	got := relatedFile("text/plain", []byte("Hello World!"))
	if got.ID != "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk" {
		t.Errorf("id %s", got.ID)
	}
	sum, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(got.DigestSRI, "sha256-"))
	if err != nil || len(sum) != 32 {
		t.Errorf("digest %s: %v", got.DigestSRI, err)
	}
}
