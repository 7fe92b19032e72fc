package api

import (
	"slices"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// Certificate is a certificate with its standing today.
type Certificate struct {
	Number   string             `json:"number"`
	Person   string             `json:"person" jsonschema_description:"ID of the person"`
	Name     string             `json:"name" jsonschema_description:"As printed"`
	Quiz     string             `json:"quiz"`
	Attempt  string             `json:"attempt,omitempty" jsonschema_description:"ID of the attempt that earned it"`
	Skills   []CertificateSkill `json:"skills"`
	Catalog  string             `json:"catalog"`
	Revision string             `json:"revision" jsonschema_description:"Of the catalog that its lookups were answered from"`
	Issued   Day                `json:"issued"`
	Expires  Day                `json:"expires" jsonschema_description:"The last day of validity"`
	Standing Standing           `json:"standing"`
}

// CertificateSkill is a skill that a certificate states.
type CertificateSkill struct {
	Skill string `json:"skill"`
	Level string `json:"level"`
}

// Standing is whether a certificate stands, and why.
type Standing struct {
	State   certificate.State `json:"state" jsonschema:"enum=valid,enum=expired,enum=outdated,enum=revoked,enum=not yet valid"`
	Reason  string            `json:"reason" jsonschema_description:"In English"`
	Since   time.Time         `json:"since,omitzero" jsonschema_description:"When it expired or was revoked"`
	Changed int               `json:"changed" jsonschema:"minimum=0" jsonschema_description:"Lookups that the catalog in force answers otherwise"`
	Lookups int               `json:"lookups" jsonschema:"minimum=0" jsonschema_description:"Lookups that it certifies"`
}

// Catalog is a catalog in force.
type Catalog struct {
	ID       string    `json:"id"`
	Title    string    `json:"title"`
	Maker    string    `json:"maker,omitempty"`
	Revision string    `json:"revision"`
	Issued   string    `json:"issued,omitempty" jsonschema_description:"Day or month, as the catalog has it"`
	Since    time.Time `json:"since,omitzero" jsonschema_description:"When it came into force"`
}

func (p *Pages) certificateEndpoints() []endpoint {
	states := []certificate.State{certificate.Valid, certificate.Expired, certificate.Outdated, certificate.Revoked, certificate.NotYet}
	return []endpoint{
		{path: "/certificates", id: "listCertificates", tag: "Certificates", summary: "Certificates with their standing", access: ofWork, answer: List[Certificate]{},
			query: append([]parameter{
				{"person", "Only those of the person with this ID", map[string]any{"type": "string"}},
				{"standing", "Only those that stand so today", map[string]any{"type": "string", "enum": states}},
			}, pageParameters...),
			handle: func(c *web.Context) (any, error) {
				all, err := p.app.Store.Certificates(c.Ctx())
				if err != nil {
					return nil, err
				}
				people, err := p.peopleByID(c)
				if err != nil {
					return nil, err
				}
				policy, err := p.policy(c)
				if err != nil {
					return nil, err
				}
				person, state := c.QueryParam("person"), certificate.State(c.QueryParam("standing"))
				if state != "" && !slices.Contains(states, state) {
					return nil, &queryError{"no certificate stands " + string(state), "see " + base + "/openapi.json"}
				}
				var out []Certificate
				for _, x := range all {
					owner := people[x.PersonID]
					if owner == nil || !c.Covers(owner) || person != "" && x.PersonID != person {
						continue
					}
					if cert := certificateOf(x, policy, c.Now()); state == "" || cert.Standing.State == state {
						out = append(out, cert)
					}
				}
				return page(c, out, func(x Certificate) string { return x.Number })
			}},
		{path: "/certificates/:number", id: "getCertificate", tag: "Certificates", summary: "A certificate with its standing", access: ofWork, answer: Certificate{},
			owner: func(c *web.Context) (string, error) {
				x, err := p.app.Store.Certificate(c.Ctx(), c.Param("number"))
				return x.PersonID, err
			},
			handle: func(c *web.Context) (any, error) {
				x, err := p.app.Store.Certificate(c.Ctx(), c.Param("number"))
				if err != nil {
					return nil, err
				}
				policy, err := p.policy(c)
				return certificateOf(x, policy, c.Now()), err
			}},
		{path: "/catalogs", id: "listCatalogs", tag: "Catalogs", summary: "Catalogs in force", access: forEverybody, answer: List[Catalog]{}, query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				all, err := p.app.Store.Catalogs(c.Ctx())
				if err != nil {
					return nil, err
				}
				all = slices.DeleteFunc(all, func(i store.CatalogInfo) bool { return !i.InForce })
				return page(c, each(all, func(i store.CatalogInfo) Catalog {
					return Catalog{i.ID, i.Title, i.Maker, i.Revision, i.Issued, instant(i.Since)}
				}), func(x Catalog) string { return x.ID })
			}},
	}
}

func (p *Pages) policy(c *web.Context) (certificate.Policy, error) {
	s, err := p.app.Store.Settings(c.Ctx())
	return certificate.Policy{OutdatedAbove: s.OutdatedAbove}, err
}

func certificateOf(x quiz.Certified, policy certificate.Policy, now time.Time) Certificate {
	s := x.Standing(policy, now)
	return Certificate{Number: x.Number, Person: x.PersonID, Name: x.Person, Quiz: x.Quiz, Attempt: x.Attempt,
		Skills:  each(x.Skills, func(k certificate.Skill) CertificateSkill { return CertificateSkill{k.Name, k.Level} }),
		Catalog: x.CatalogTitle, Revision: x.CatalogRevision, Issued: Day(x.Issued), Expires: Day(x.Expires),
		Standing: Standing{s.State, s.Reason, instant(s.Since), len(s.Changed), s.Total}}
}
