package main

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"rightpage/quiz/credential"
)

func certificateCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "certificate", Short: "Verify a certificate"}
	cmd.AddCommand(certificateVerifyCommand())
	return cmd
}

func certificateVerifyCommand() *cobra.Command {
	var format string
	var issuers, statusLists []string
	cmd := &cobra.Command{
		Use:   "verify FILE",
		Short: "Check a certificate offline: PDF, PNG badge, JSON or token",
		Long: `Checks that a certificate is what its issuer signed, and in force. Nothing is
looked up: name the issuers that you believe by --issuer (a did:key), or by the
file of their did:web document. Without --issuer any did:key is accepted and the
result says that the issuer is not known.

Exit status 1 if it is not valid.`,
		Example: "  rightpage certificate verify certificate.pdf\n  rightpage certificate verify badge.png --issuer did:key:z6Mk… --format json",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			o := credential.Options{Now: time.Now()}
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
			if format == "json" {
				err = writeJSON(cmd.OutOrStdout(), res)
			} else {
				printVerification(cmd, args[0], res)
			}
			if err == nil && !res.Valid {
				return errNo
			}
			return err
		},
	}
	cmd.Flags().StringArrayVar(&issuers, "issuer", nil, "issuer to believe: a did:key, or the file of a did:web document (may be repeated)")
	cmd.Flags().StringArrayVar(&statusLists, "status-list", nil, "file of a signed list of revocations (may be repeated)")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func trust(issuer string) (credential.TrustedIssuer, error) {
	if data, err := os.ReadFile(issuer); err == nil {
		return credential.TrustDocument(data)
	}
	return credential.TrustDID(issuer)
}

// readBounded reads a file of at most max bytes.
func readBounded(name string, max int64) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if info.Size() > max {
		return nil, fmt.Errorf("%s has %d bytes; at most %d are read", name, info.Size(), max)
	}
	return os.ReadFile(name)
}

func printVerification(cmd *cobra.Command, file string, res credential.Result) {
	w := cmd.OutOrStdout()
	word := "NOT VALID"
	if res.Valid {
		word = "VALID"
	}
	fmt.Fprintf(w, "%s: %s (%s)\n%s\n", file, word, res.Outcome, res.Reason)
	if res.Number == "" {
		return
	}
	line := func(label, text string) {
		if text != "" {
			fmt.Fprintf(w, "  %-12s %s\n", label, text)
		}
	}
	line("number", res.Number)
	line("person", res.Person)
	line("issued by", res.Organisation)
	line("for", res.Quiz)
	for _, s := range res.Skills {
		line("skill", s.Name+": "+s.Level)
	}
	line("literature", res.CatalogTitle+", revision "+res.CatalogRevision)
	line("from", res.ValidFrom.Format(time.DateOnly))
	if !res.ValidUntil.IsZero() {
		line("until", res.ValidUntil.Format(time.DateOnly))
	}
	line("issuer", res.Issuer)
	if !res.StatusChecked {
		line("revocation", "not checked: no list of revocations was given")
	}
	line("note", res.Statement)
}
