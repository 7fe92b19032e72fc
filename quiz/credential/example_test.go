package credential_test

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"log"
	"time"

	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
	"rightpage/quiz/paper"
)

// A certificate from the passed quiz to the file that anyone can check.
func Example() {
	now := time.Date(2031, 3, 14, 9, 30, 0, 0, time.UTC)

	// Once, at set-up. Save keeps it in a file of mode 0600.
	ring, err := credential.NewKeyring(now, rand.Reader)
	if err != nil {
		log.Fatal(err)
	}
	signer, err := ring.Signer()
	if err != nil {
		log.Fatal(err)
	}

	// What is certified.
	c := certificate.Certificate{
		Number: "WX-2031-0042", Person: "Maren Ostvold", Organisation: "Wexcombe Estate & Farm Services",
		Quiz:         "Tarnfell lookup, workshop level",
		Skills:       []certificate.Skill{{Name: "Edition for a build date", Level: "Assured", Score: "38 of 40"}},
		CatalogTitle: "Tarnfell service literature", CatalogRevision: "2031-02",
		Issued: now, Expires: now.AddDate(2, 0, -1),
		VerifyURL: "https://training.wexcombe.example/verify/WX-2031-0042?code=7K4M-2QXD",
	}

	// What is printed, before the credential goes in.
	printed := paper.CertificateOf(c)
	printed.Signatory, printed.SignatoryRole, printed.KeyName = "Ida Brandreth", "training coordinator", signer.DID
	var pdf, badge bytes.Buffer
	if err := paper.WriteCertificate(&pdf, printed); err != nil {
		log.Fatal(err)
	}
	if err := paper.WriteBadge(&badge, paper.BadgeOf(c)); err != nil {
		log.Fatal(err)
	}

	// Signed, in every form.
	bundle, err := signer.Issue(c, credential.IssueOptions{Now: now, PDF: pdf.Bytes(), PNG: badge.Bytes()})
	if err != nil {
		log.Fatal(err)
	}

	// Checked, offline.
	o := credential.Options{Now: now.AddDate(1, 0, 0), Trusted: ring.Trusted()}
	for _, file := range [][]byte{bundle.PDF, bundle.PNG, bundle.JSON, bundle.JWT, pdf.Bytes()} {
		result, err := credential.VerifyFile(file, o)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(result.Format, result.Outcome)
	}
	// Output:
	// pdf genuine
	// png genuine
	// json genuine
	// jwt genuine
	// pdf unreadable
}
