package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rightpage/quiz/credential"
)

func certificateCommand() *cobra.Command {
	return group("certificate", "Verify a certificate", certificateVerifyCommand())
}

func certificateVerifyCommand() *cobra.Command {
	var format, at string
	var issuers, statusLists []string
	cmd := &cobra.Command{
		Use:   "verify FILE",
		Short: "Check a certificate offline: PDF, PNG badge, JSON or token",
		Long: `Checks that a certificate is what its issuer signed, and in force. Nothing is
looked up: name the issuers that you believe by --issuer (a did:key), or by the
file of their did:web document. Without --issuer any did:key is accepted and the
result says that the issuer is not known.

Exit status 1 if it is not valid.`,
		Example: `  rightpage try --once --out demo
  rightpage certificate verify demo/certificate.pdf
  rightpage certificate verify demo/certificate.pdf --issuer demo/issuer.txt --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			o := credential.Options{Now: time.Now()}
			if at != "" {
				day, err := time.Parse(time.DateOnly, at)
				if err != nil {
					return usagef("--at %s is no date; write YYYY-MM-DD", at)
				}
				o.Now = day.Add(12 * time.Hour)
			}
			for _, i := range issuers {
				t, err := trust(i)
				if err != nil {
					return fmt.Errorf("--issuer %s: %w", i, err)
				}
				o.Trusted = append(o.Trusted, t)
			}
			for _, s := range statusLists {
				data, err := readBounded(s, credential.MaxFile)
				if err != nil {
					return err
				}
				o.StatusLists = append(o.StatusLists, data)
			}
			data, err := readBounded(args[0], credential.MaxFile)
			if err != nil {
				return err
			}
			res, err := credential.VerifyFile(data, o)
			if err != nil {
				return err
			}
			doc := verificationOf(args[0], &res, len(issuers) > 0)
			if format == "json" {
				err = writeJSON(cmd.OutOrStdout(), doc)
			} else {
				err = printVerification(cmd.OutOrStdout(), &doc)
			}
			if err == nil && !res.Valid {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringArrayVar(&issuers, "issuer", nil, "`issuer` to believe: a did:key, or the file of a did:web document (may be repeated)")
	fl.StringArrayVar(&statusLists, "status-list", nil, "signed list of revocations in `FILE` (may be repeated)")
	fl.StringVar(&at, "at", "", "judge as of this `date`, YYYY-MM-DD (default: today)")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func trust(issuer string) (credential.TrustedIssuer, error) {
	if strings.HasPrefix(issuer, "did:") {
		return credential.TrustDID(issuer)
	}
	data, err := readBounded(issuer, 1<<20)
	if err != nil {
		if os.IsNotExist(err) {
			return credential.TrustedIssuer{}, usagef("that is neither a did:key nor a file")
		}
		return credential.TrustedIssuer{}, err
	}
	return credential.ParseTrust(data)
}

// verificationDocument is what certificate verify prints as JSON. What follows
// reason is there only if the signature is right, and is what was signed.
type verificationDocument struct {
	File            string           `json:"file"`
	Valid           bool             `json:"valid"`
	Outcome         string           `json:"outcome"`
	Reason          string           `json:"reason"`
	Format          string           `json:"format,omitempty"`
	Number          string           `json:"number,omitempty"`
	ID              string           `json:"id,omitempty"`
	Person          string           `json:"person,omitempty"`
	Organisation    string           `json:"organisation,omitempty"`
	Quiz            string           `json:"quiz,omitempty"`
	Skills          []certifiedSkill `json:"skills,omitempty"`
	CatalogTitle    string           `json:"catalog_title,omitempty"`
	CatalogRevision string           `json:"catalog_revision,omitempty"`
	Statement       string           `json:"statement,omitempty"`
	ValidFrom       string           `json:"valid_from,omitempty"`  // a date
	ValidUntil      string           `json:"valid_until,omitempty"` // a date; not there if it does not expire
	Issuer          string           `json:"issuer,omitempty"`
	Key             string           `json:"key,omitempty"`
	IssuerKnown     bool             `json:"issuer_known"`
	StatusChecked   bool             `json:"status_checked"`
}

type certifiedSkill struct {
	Name  string `json:"name"`
	Level string `json:"level"`
	Score string `json:"score,omitempty"`
}

func verificationOf(file string, res *credential.Result, named bool) verificationDocument {
	doc := verificationDocument{
		File: file, Valid: res.Valid, Outcome: string(res.Outcome), Reason: res.Reason, Format: res.Format,
		Number: res.Number, ID: res.ID, Person: res.Person, Organisation: res.Organisation, Quiz: res.Quiz,
		CatalogTitle: res.CatalogTitle, CatalogRevision: res.CatalogRevision, Statement: res.Statement,
		Issuer: res.Issuer, Key: res.Key, IssuerKnown: named && res.IssuerKnown, StatusChecked: res.StatusChecked,
	}
	for _, s := range res.Skills {
		doc.Skills = append(doc.Skills, certifiedSkill(s))
	}
	if !res.ValidFrom.IsZero() {
		doc.ValidFrom = res.ValidFrom.Format(time.DateOnly)
	}
	if !res.ValidUntil.IsZero() {
		doc.ValidUntil = res.ValidUntil.Format(time.DateOnly)
	}
	return doc
}

func printVerification(out io.Writer, doc *verificationDocument) error {
	w := newWrapper(out)
	word := "NOT VALID"
	if doc.Valid {
		word = "VALID"
	}
	fmt.Fprintf(w, "%s: %s (%s)\n%s\n", doc.File, word, doc.Outcome, doc.Reason)
	if doc.Number == "" {
		return w.Close()
	}
	line := func(label, text string) {
		if text != "" {
			fmt.Fprintf(w, "  %-12s  %s\n", label, text)
		}
	}
	line("number", doc.Number)
	line("person", doc.Person)
	line("issued by", doc.Organisation)
	line("for", doc.Quiz)
	var skills []string
	for _, s := range doc.Skills {
		text := s.Name + " (" + s.Level
		if s.Score != "" {
			text += ", " + s.Score
		}
		skills = append(skills, text+")")
	}
	line("skills", strings.Join(skills, ", "))
	line("literature", doc.CatalogTitle+", revision "+doc.CatalogRevision)
	line("from", doc.ValidFrom)
	line("until", doc.ValidUntil)
	line("issuer", doc.Issuer)
	if !doc.IssuerKnown {
		line("believed", "nobody vouches for this issuer: --issuer names those that you believe")
	}
	if !doc.StatusChecked {
		line("revocation", "not checked: no list of revocations was given")
	}
	line("note", doc.Statement)
	return w.Close()
}
