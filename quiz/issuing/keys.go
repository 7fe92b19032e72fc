package issuing

import (
	"crypto/rand"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/credential"
)

// Keys are the keys that an organisation signs with, and the file that holds
// them. It is safe for concurrent use, and notices when another process has
// changed the file.
type Keys struct {
	mu         sync.Mutex
	path       string
	passphrase []byte
	ring       *credential.Keyring
	read       fs.FileInfo // of the file when it was read
}

// OpenKeys opens a key file; if there is none, it makes one with a new key,
// encrypted by the passphrase unless that is empty. Where the file is encrypted
// and the passphrase is empty, the keys verify and do not sign.
func OpenKeys(path, passphrase string) (*Keys, error) {
	k := &Keys{path: path, passphrase: []byte(passphrase)}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if err := k.create(); err != nil {
			return nil, err
		}
	}
	if err := k.load(); err != nil {
		return nil, err
	}
	return k, nil
}

// create makes a key file unless another process does at the same time: keys
// that were once used must not be lost.
func (k *Keys) create() error {
	ring, err := credential.NewKeyring(time.Now(), rand.Reader)
	if err == nil && len(k.passphrase) > 0 {
		err = ring.SetPassphrase(k.passphrase)
	}
	if err != nil {
		return k.fail("make the keys", err)
	}
	dir, err := os.MkdirTemp(filepath.Dir(k.path), ".keys-")
	if err != nil {
		return k.fail("make the key file", err)
	}
	defer os.RemoveAll(dir)
	made := filepath.Join(dir, filepath.Base(k.path))
	if err := ring.Save(made); err != nil {
		return k.fail("make the key file", err)
	}
	if err := os.Link(made, k.path); err != nil && !errors.Is(err, fs.ErrExist) {
		// The file system knows no links: the window in which two processes
		// could make it is small.
		if err := os.Rename(made, k.path); err != nil {
			return k.fail("make the key file", err)
		}
	}
	return nil
}

func (k *Keys) fail(doing string, err error) error {
	return &quiz.Error{Code: quiz.Internal, Text: doing + " " + k.path, Err: err, Mend: "see that the file can be read and written by this user alone, and that the passphrase is right"}
}

// load reads the file.
func (k *Keys) load() error {
	info, err := os.Stat(k.path)
	if err != nil {
		return k.fail("read the key file", err)
	}
	ring, err := credential.LoadKeyring(k.path)
	if err != nil {
		return k.fail("read the key file", err)
	}
	if ring.Locked() && len(k.passphrase) > 0 {
		if err := ring.Unlock(k.passphrase); err != nil {
			return k.fail("unlock the key file", err)
		}
	}
	k.ring, k.read = ring, info
	return nil
}

// fresh reads the file again if it was changed.
func (k *Keys) fresh() error {
	info, err := os.Stat(k.path)
	if err != nil {
		return k.fail("read the key file", err)
	}
	if os.SameFile(info, k.read) && info.ModTime().Equal(k.read.ModTime()) && info.Size() == k.read.Size() {
		return nil
	}
	return k.load()
}

// change changes the ring and saves it.
func (k *Keys) change(doing string, change func(*credential.Keyring) error) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if err := k.fresh(); err != nil {
		return err
	}
	err := change(k.ring)
	if err == nil {
		err = k.ring.Save(k.path)
	}
	if err != nil {
		// What is in memory may be half changed.
		_ = k.load()
		return k.fail(doing, err)
	}
	return k.load()
}

// view looks at the ring.
func (k *Keys) view(look func(*credential.Keyring) error) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if err := k.fresh(); err != nil {
		return err
	}
	return look(k.ring)
}

// Signer gives what signs with the key in use.
func (k *Keys) Signer() (credential.Signer, error) {
	var s credential.Signer
	err := k.view(func(r *credential.Keyring) error {
		var err error
		if s, err = r.Signer(); err != nil {
			return &quiz.Error{Code: quiz.Closed, Text: "certificates cannot be signed", Err: err, Mend: "start the server with the passphrase of the key file, or rotate the keys"}
		}
		return nil
	})
	return s, err
}

// Rotate retires the key in use and makes a new one: what was signed stays
// good.
func (k *Keys) Rotate(now time.Time) error {
	return k.change("rotate the keys in", func(r *credential.Keyring) error { return r.Rotate(now, rand.Reader) })
}

// Compromise marks a key as known to others: nothing that it signed is believed
// any more.
func (k *Keys) Compromise(id string, now time.Time) error {
	return k.change("mark a key in", func(r *credential.Keyring) error { return r.Compromise(id, now) })
}

// MarkBackedUp records that a copy of the key file was put away.
func (k *Keys) MarkBackedUp(now time.Time) error {
	return k.change("mark the backup of", func(r *credential.Keyring) error { r.MarkBackedUp(now); return nil })
}

// UseWeb makes the organisation sign as the web site at an https address, at
// which [Issuer.DIDDocument] must be served; documentURL tells where. What was
// signed before stays good.
func (k *Keys) UseWeb(baseURL string) (documentURL string, err error) {
	did, documentURL, err := credential.WebDID(baseURL)
	if err != nil {
		return "", &quiz.Error{Code: quiz.Invalid, Text: "sign as " + baseURL, Err: err, Mend: "serve by https, or sign by the key alone"}
	}
	signer, err := k.Signer()
	if err == nil && signer.DID == did {
		return documentURL, nil
	}
	return documentURL, k.change("set the issuer in", func(r *credential.Keyring) error { return r.UseWebDID(did) })
}

// List lists the keys, the oldest first, without their secrets.
func (k *Keys) List() ([]credential.Key, error) {
	var list []credential.Key
	err := k.view(func(r *credential.Keyring) error { list = r.Keys(); return nil })
	return list, err
}

// Warnings lists what should be seen to about the keys, in sentences for an
// administrator.
func (k *Keys) Warnings(now time.Time) []string {
	var list []string
	if err := k.view(func(r *credential.Keyring) error { list = r.Warnings(now); return nil }); err != nil {
		list = append(list, err.Error())
	}
	return list
}

// Trusted gives the issuers that the organisation has signed as.
func (k *Keys) Trusted() ([]credential.TrustedIssuer, error) {
	var list []credential.TrustedIssuer
	err := k.view(func(r *credential.Keyring) error { list = r.Trusted(); return nil })
	return list, err
}

// DIDDocument gives the document of the organisation's did:web.
func (k *Keys) DIDDocument() ([]byte, error) {
	var doc []byte
	err := k.view(func(r *credential.Keyring) error {
		var err error
		if doc, err = r.DIDDocument(); err != nil {
			return &quiz.Error{Code: quiz.NotFound, Text: "there is no DID document", Err: err, Mend: "sign as a web site first"}
		}
		return nil
	})
	return doc, err
}
