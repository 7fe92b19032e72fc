package credential

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"rightpage/quiz/certificate"
)

const (
	contextVC         = "https://www.w3.org/ns/credentials/v2"
	contextOpenBadges = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json"

	typeVC         = "VerifiableCredential"
	typeOpenBadge  = "OpenBadgeCredential"
	typeStatusList = "BitstringStatusListCredential"

	mediaPDF = "application/pdf"
	mediaPNG = "image/png"
)

// termNamespace makes the terms that Open Badges has no word for globally
// distinct (a random UUID, RFC 9562, fixed for good).
const termNamespace = "urn:uuid:5f1c8a52-6a0e-4d0b-9a3c-2f7b1f6f4c1e#"

// ownTerms is the inline JSON-LD context that defines them.
type ownTerms struct {
	CertificateNumber string `json:"certificateNumber"`
	CatalogTitle      string `json:"catalogTitle"`
	CatalogRevision   string `json:"catalogRevision"`
}

// openBadge is an OpenBadgeCredential (Open Badges 3.0, AchievementCredential)
// in the members that certificates use.
type openBadge struct {
	Context           []any             `json:"@context"`
	ID                string            `json:"id"`
	Type              []string          `json:"type"`
	Name              string            `json:"name"`
	Issuer            profile           `json:"issuer"`
	ValidFrom         string            `json:"validFrom"`
	ValidUntil        string            `json:"validUntil,omitempty"`
	Subject           achievementHolder `json:"credentialSubject"`
	Status            *StatusEntry      `json:"credentialStatus,omitempty"`
	RelatedResource   []relatedResource `json:"relatedResource,omitempty"`
	CertificateNumber string            `json:"certificateNumber,omitempty"`
	CatalogTitle      string            `json:"catalogTitle,omitempty"`
	CatalogRevision   string            `json:"catalogRevision,omitempty"`
}

type profile struct {
	ID   string   `json:"id"`
	Type []string `json:"type"`
	Name string   `json:"name,omitempty"`
	URL  string   `json:"url,omitempty"`
}

type achievementHolder struct {
	ID          string           `json:"id,omitempty"`
	Type        []string         `json:"type"`
	Identifier  []identityObject `json:"identifier,omitempty"`
	Achievement achievement      `json:"achievement"`
	Result      []result         `json:"result,omitempty"`
}

type identityObject struct {
	Type         string `json:"type"`
	Hashed       bool   `json:"hashed"`
	IdentityHash string `json:"identityHash"`
	IdentityType string `json:"identityType"`
}

type achievement struct {
	ID                string              `json:"id"`
	Type              []string            `json:"type"`
	AchievementType   string              `json:"achievementType,omitempty"`
	Name              string              `json:"name"`
	Description       string              `json:"description"`
	Criteria          criteria            `json:"criteria"`
	Version           string              `json:"version,omitempty"`
	ResultDescription []resultDescription `json:"resultDescription,omitempty"`
}

type criteria struct {
	Narrative string `json:"narrative"`
}

type resultDescription struct {
	ID         string   `json:"id"`
	Type       []string `json:"type"`
	Name       string   `json:"name"`
	ResultType string   `json:"resultType"`
}

type result struct {
	Type              []string `json:"type"`
	ResultDescription string   `json:"resultDescription"`
	Value             string   `json:"value"`
}

// relatedResource binds a file to the credential by its digest (VC 2.0,
// section 5.3, Integrity of Related Resources). Its id is the file's content
// itself (RFC 6920), as the file has no other address.
type relatedResource struct {
	ID        string `json:"id"`
	MediaType string `json:"mediaType"`
	DigestSRI string `json:"digestSRI"`
}

func relatedFile(mediaType string, data []byte) relatedResource {
	sum := sha256.Sum256(data)
	return relatedResource{
		ID:        "ni:///sha-256;" + base64.RawURLEncoding.EncodeToString(sum[:]),
		MediaType: mediaType,
		DigestSRI: "sha256-" + base64.StdEncoding.EncodeToString(sum[:]),
	}
}

// stableUUID is a version 8 UUID (RFC 9562) of the SHA-256 of its parts: the
// same parts, the same identifier.
func stableUUID(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	sum[6] = sum[6]&0x0f | 0x80
	sum[8] = sum[8]&0x3f | 0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", sum[:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
}

// badgeOf states c in the terms of Open Badges.
func badgeOf(c certificate.Certificate, issuer profile, o IssueOptions) openBadge {
	id := c.VerifyURL
	if id == "" {
		id = stableUUID(issuer.ID, c.Number)
	}
	badge := openBadge{
		Context: []any{contextVC, contextOpenBadges, ownTerms{
			CertificateNumber: termNamespace + "certificateNumber",
			CatalogTitle:      termNamespace + "catalogTitle",
			CatalogRevision:   termNamespace + "catalogRevision",
		}},
		ID:                id,
		Type:              []string{typeVC, typeOpenBadge},
		Name:              "Certificate " + c.Number,
		Issuer:            issuer,
		ValidFrom:         c.ValidFrom().Format(time.RFC3339),
		ValidUntil:        c.ValidUntil().Format(time.RFC3339),
		Status:            o.Status,
		CertificateNumber: c.Number,
		CatalogTitle:      c.CatalogTitle,
		CatalogRevision:   c.CatalogRevision,
		Subject: achievementHolder{
			ID:   stableUUID(issuer.ID, c.Number, "holder"),
			Type: []string{"AchievementSubject"},
			Identifier: []identityObject{{
				Type: "IdentityObject", IdentityHash: c.Person, IdentityType: "name",
			}},
			Achievement: achievement{
				ID:              stableUUID(issuer.ID, c.Quiz, c.CatalogTitle, c.CatalogRevision),
				Type:            []string{"Achievement"},
				AchievementType: "Certificate",
				Name:            c.Quiz,
				Description: "Finding the right page in " + c.CatalogTitle + ", revision " + c.CatalogRevision +
					". " + certificate.NotALicence,
				Criteria: criteria{Narrative: "Lookups answered with the service literature open and no other help, " +
					"graded against the answers computed from the catalog of that literature."},
				Version: c.CatalogRevision,
			},
		},
	}
	for _, s := range c.Skills {
		description := stableUUID(badge.Subject.Achievement.ID, s.Name)
		badge.Subject.Achievement.ResultDescription = append(badge.Subject.Achievement.ResultDescription,
			resultDescription{ID: description, Type: []string{"ResultDescription"}, Name: s.Name, ResultType: "PerformanceLevel"})
		value := s.Level
		if s.Score != "" {
			value += scoreSeparator + s.Score
		}
		badge.Subject.Result = append(badge.Subject.Result,
			result{Type: []string{"Result"}, ResultDescription: description, Value: value})
	}
	if o.PDF != nil {
		badge.RelatedResource = append(badge.RelatedResource, relatedFile(mediaPDF, o.PDF))
	}
	if o.PNG != nil {
		badge.RelatedResource = append(badge.RelatedResource, relatedFile(mediaPNG, o.PNG))
	}
	return badge
}

// scoreSeparator stands between level and score in a result's value.
const scoreSeparator = ", "

// skills reads back what badgeOf wrote.
func (b openBadge) skills() []certificate.Skill {
	names := make(map[string]string)
	for _, d := range b.Subject.Achievement.ResultDescription {
		names[d.ID] = d.Name
	}
	var skills []certificate.Skill
	for _, r := range b.Subject.Result {
		level, score, _ := strings.Cut(r.Value, scoreSeparator)
		skills = append(skills, certificate.Skill{Name: names[r.ResultDescription], Level: level, Score: score})
	}
	return skills
}

// person is the holder's name in clear, if the credential has it.
func (b openBadge) person() string {
	for _, id := range b.Subject.Identifier {
		if id.IdentityType == "name" && !id.Hashed {
			return id.IdentityHash
		}
	}
	return ""
}
