package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/quiz"
	"rightpage/quiz/demo"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
	"rightpage/testdata"
)

// tryServing serves the pages of the demonstration, or of an organisation that
// begins with the catalog in dir, over a database in out.
func tryServing(cmd *cobra.Command, o *serving, dir, out string) (err error) {
	ctx := cmd.Context()
	file, err := freshFile(out)
	if err != nil {
		return err
	}
	clock := demo.NewClock(nil)
	s, err := store.Open(ctx, file, store.Options{Now: clock.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := s.Migrate(ctx); err != nil {
		return err
	}
	keys, err := issuing.OpenKeys(strings.TrimSuffix(file, filepath.Ext(file))+".keys", "")
	if err != nil {
		return err
	}
	stdout := cmd.OutOrStdout()
	var logins []demo.Login
	if dir == "" {
		fmt.Fprintf(stdout, "\nNow half a year of an organisation of 26 people, in %s\n", file)
		flush(stdout)
		bar := progress(cmd.ErrOrStderr(), 100, "half a year")
		d, err := demo.Fill(ctx, s, demo.Options{Clock: clock, Catalogs: testdata.Demo(), Keys: keys,
			Progress: func(done float64) { _ = bar.Set(int(100 * done)) }})
		_ = bar.Finish()
		if err != nil {
			return err
		}
		logins = d.Logins
	} else if logins, err = beginWith(ctx, s, dir); err != nil {
		return err
	}
	return o.run(ctx, cmd.ErrOrStderr(), s, keys, clock.Now, "", func(at string) {
		fmt.Fprintf(stdout, "\nOpen %s in a browser and sign in. Interrupt to stop.\n\n", at)
		for _, l := range logins {
			fmt.Fprintf(stdout, "  %-14s  login %-10s  password %s\n", l.Role, l.Login, l.Password)
			if l.Shows != "" {
				fmt.Fprintf(stdout, "  %-14s  %s\n", "", l.Shows)
			}
		}
		flush(stdout)
	})
}

// freshFile names a database in the folder that is not there yet: what an earlier
// run left stays.
func freshFile(folder string) (string, error) {
	for n := 1; ; n++ {
		name := filepath.Join(folder, "training.db")
		if n > 1 {
			name = filepath.Join(folder, fmt.Sprintf("training-%d.db", n))
		}
		if _, err := os.Lstat(name); errors.Is(err, os.ErrNotExist) {
			return name, nil
		} else if err != nil {
			return "", err
		}
	}
}

// beginWith makes an organisation that has just begun: a catalog in force, and
// one person who is everything.
func beginWith(ctx context.Context, s *store.Store, dir string) ([]demo.Login, error) {
	up, err := library.ReadPath(dir)
	if err != nil {
		return nil, err
	}
	if err := up.Report.Err(); err != nil {
		return nil, err
	}
	settings := quiz.DefaultSettings()
	settings.Organisation = "Demonstration workshop"
	if err := s.SaveSettings(ctx, "", &settings); err != nil {
		return nil, err
	}
	password := strings.ToLower(rand.Text()[:16])
	hash, err := quiz.DefaultPasswords().Hash(password)
	if err != nil {
		return nil, err
	}
	p := &quiz.Person{Name: "Demonstration", Roles: quiz.Roles()}
	if err := s.AddPerson(ctx, "", p, "demo", hash, false); err != nil {
		return nil, err
	}
	if err := s.AddCatalog(ctx, p.ID, &up.Info, up.Content); err != nil {
		return nil, err
	}
	if err := s.PutInForce(ctx, p.ID, up.Info.ID); err != nil {
		return nil, err
	}
	return []demo.Login{{Role: "every role", Login: "demo", Password: password, Person: *p, Shows: "the catalog is in force; set a quiz, or practise"}}, nil
}
