package main

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rightpage/quiz"
)

func userCommand() *cobra.Command {
	return group("user", "Add people who can sign in", userAddCommand())
}

// codeValid is how long the one-time code of a new person holds: long enough to
// hand it over on paper.
const codeValid = 14 * 24 * time.Hour

func userAddCommand() *cobra.Command {
	var db, name, login, number, mail, site, locale, format string
	var roles []string
	var fromStdin bool
	cmd := &cobra.Command{
		Use:   "add",
		Short: "Add a person who can sign in",
		Long: `Adds a person with a login. With --password-stdin the password is the first line
of standard input; without, a one-time code is printed, with which the person
chooses a password of their own.

This is also how the first administrator is made where the set-up in the browser
is not wanted.`,
		Example: `  rightpage migrate --db training.db
  rightpage user add --db training.db --name "Ada Fenwick" --login ada --role administrator --role coordinator
  rightpage user add --db training.db --name "Ben Okoro" --login ben --role technician --password-stdin < password.txt`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			ctx := cmd.Context()
			if name == "" || login == "" || len(roles) == 0 {
				return usagef("--name, --login and --role are needed")
			}
			s, err := openDatabase(ctx, db, false)
			if err != nil {
				return answerOf(cmd, err)
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			if err := s.Ready(ctx); err != nil {
				return answerOf(cmd, err)
			}
			p := &quiz.Person{Name: name, Number: number, Mail: mail, Locale: locale}
			for _, r := range roles {
				p.Roles = append(p.Roles, quiz.Role(r))
			}
			if site != "" {
				sites, err := s.Sites(ctx)
				if err != nil {
					return answerOf(cmd, err)
				}
				var names []string
				for _, x := range sites {
					names = append(names, x.Name)
					if strings.EqualFold(x.Name, site) {
						p.Site = x.ID
					}
				}
				if p.Site == "" {
					return usagef("there is no site %s; there are: %s", site, strings.Join(names, ", "))
				}
			}
			password := rand.Text() // nobody's, until the code is redeemed
			if fromStdin {
				line, err := bufio.NewReader(io.LimitReader(cmd.InOrStdin(), 4096)).ReadString('\n')
				if err != nil && !errors.Is(err, io.EOF) {
					return err
				}
				password = strings.TrimRight(line, "\r\n")
				if err := quiz.CheckPassword(password, login, name); err != nil {
					return err
				}
			}
			hash, err := quiz.DefaultPasswords().Hash(password)
			if err != nil {
				return err
			}
			if err := s.AddPerson(ctx, "", p, login, hash, !fromStdin); err != nil {
				return answerOf(cmd, err)
			}
			doc := userDocument{Person: p.ID, Name: p.Name, Login: quiz.FoldLogin(login)}
			if !fromStdin {
				if doc.Code, err = s.IssueCode(ctx, "", p.ID, codeValid); err != nil {
					return answerOf(cmd, err)
				}
			}
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), doc)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "added %s, login %s\n", doc.Name, doc.Login)
			if doc.Code != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "one-time code %s, good for 14 days: enter it at /code to choose a password\n", doc.Code)
			}
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	databaseFlag(cmd, &db)
	fl.StringVar(&name, "name", "", "`name` as it stands on certificates")
	fl.StringVar(&login, "login", "", "`name` to sign in with")
	fl.StringArrayVar(&roles, "role", nil, "`role`: technician, coordinator, manager or administrator (may be repeated)")
	fl.StringVar(&number, "number", "", "staff `number`")
	fl.StringVar(&mail, "mail", "", "mail `address`")
	fl.StringVar(&site, "site", "", "`name` of the site")
	fl.StringVar(&locale, "language", "", "`language` of the pages: en, de, es or fr")
	fl.BoolVar(&fromStdin, "password-stdin", false, "read the password from standard input")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// userDocument is what user add prints as JSON.
type userDocument struct {
	Person string `json:"person"`
	Name   string `json:"name"`
	Login  string `json:"login"`
	Code   string `json:"code,omitempty"`
}
