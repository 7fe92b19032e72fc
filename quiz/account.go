package quiz

import (
	"strings"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Account is how a person logs in.
type Account struct {
	Person  string // ID
	Login   string // as folded by FoldLogin
	Hash    string // argon2id, in the PHC string format; empty: no password was set yet, and Must
	Changed time.Time
	Must    bool // the password must be changed at the next login
	Version int  // counts changes; 0: not stored yet
}

// Passwords says how passwords are hashed.
type Passwords struct{ params argon2id.Params }

// DefaultPasswords hashes with argon2id, 19 MiB, two passes, one lane: the
// first of the settings that the OWASP Password Storage Cheat Sheet gives
// (from memory).
func DefaultPasswords() Passwords {
	return Passwords{argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}}
}

// The bounds of a password in characters: OWASP ASVS 5.0, 6.2.1 and 6.2.9
// (at least 8, with 15 recommended where it is the only factor; 64 or more
// must be allowed). From memory.
const (
	MinPassword = 12
	MaxPassword = 128
)

// CheckPassword reports why a password will not do. No rule of composition:
// length, and that it is not the login or the name.
func CheckPassword(password, login, name string) error {
	n := utf8.RuneCountInString(password)
	if !utf8.ValidString(password) || n < MinPassword || n > MaxPassword {
		return &Error{Code: Invalid, Text: "the password is too short or too long", Mend: "use 12 to 128 characters, such as four words"}
	}
	for _, s := range []string{login, name} {
		if s != "" && FoldLogin(password) == FoldLogin(s) {
			return &Error{Code: Invalid, Text: "the password is the login or the name", Mend: "choose another"}
		}
	}
	return nil
}

// Hash hashes a password. It takes some tens of milliseconds on purpose.
func (p Passwords) Hash(password string) (string, error) {
	h, err := argon2id.CreateHash(norm.NFC.String(password), &p.params)
	if err != nil {
		return "", &Error{Code: Internal, Text: "hash the password", Err: err}
	}
	return h, nil
}

// Match tells whether the password is the one of the hash, and whether the
// hash is weaker than p makes them, so that it should be made again. An empty
// hash matches nothing, and takes as long to tell.
func (p Passwords) Match(password, hash string) (match, again bool, err error) {
	if hash == "" {
		_, err := p.Hash(password)
		return false, false, err
	}
	match, params, err := argon2id.CheckHash(norm.NFC.String(password), hash)
	if err != nil {
		return false, false, &Error{Code: Internal, Text: "the stored password hash cannot be read", Err: err, Mend: "set a new password"}
	}
	return match, match && *params != p.params, nil
}

// FoldLogin gives the form of a login that is compared: without regard to
// case, to how accents are composed, and to surrounding space.
func FoldLogin(login string) string {
	return norm.NFC.String(cases.Fold().String(norm.NFC.String(strings.TrimSpace(login))))
}
