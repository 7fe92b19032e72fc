package credential

import (
	"bytes"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"filippo.io/age"
	"filippo.io/age/armor"
)

// keyFileFormat is the first line of defence against reading another file.
const keyFileFormat = "rightpage signing keys 1"

// keyFile is a keyring on disk. A secret is there in clear, protected by file
// mode alone, or encrypted by passphrase in the age format (scrypt and
// ChaCha20-Poly1305).
type keyFile struct {
	Format   string         `json:"format"`
	Web      string         `json:"did,omitempty"`
	Keys     []keyFileEntry `json:"keys"`
	BackedUp *time.Time     `json:"backedUp,omitempty"`
}

type keyFileEntry struct {
	Public      string     `json:"publicKeyMultibase"`
	Created     time.Time  `json:"created"`
	Retired     *time.Time `json:"retired,omitempty"`
	Compromised bool       `json:"compromised,omitempty"`
	Secret      string     `json:"secretKeyMultibase,omitempty"`
	Sealed      string     `json:"secretKeyAge,omitempty"`
}

// sealWork is the scrypt work factor, log2 of N: age's default, about a
// second. It is a parameter of the functions below so that tests need not
// wait.
const sealWork = 18

// SetPassphrase has the secrets encrypted when the ring is saved next; empty
// has them stored in clear. A locked ring has to be unlocked first.
func (r *Keyring) SetPassphrase(passphrase []byte) error {
	return r.setPassphrase(passphrase, sealWork)
}

func (r *Keyring) setPassphrase(passphrase []byte, work int) error {
	last := &r.keys[len(r.keys)-1]
	if last.sealed != "" && last.secret == nil {
		return errors.New("credential: the keyring is locked: unlock it with its present passphrase first")
	}
	if len(passphrase) == 0 {
		r.pass, last.sealed = nil, ""
		return nil
	}
	if len(passphrase) < 8 {
		return errors.New("credential: a passphrase needs at least 8 characters")
	}
	r.pass = bytes.Clone(passphrase)
	return r.seal(last, work)
}

// seal encrypts the secret of k with the ring's passphrase.
func (r *Keyring) seal(k *Key, work int) error {
	if k.secret == nil {
		return nil
	}
	recipient, err := age.NewScryptRecipient(string(r.pass))
	if err != nil {
		return fmt.Errorf("credential: encrypting the key: %w", err)
	}
	recipient.SetWorkFactor(work)
	var out bytes.Buffer
	armored := armor.NewWriter(&out)
	w, err := age.Encrypt(armored, recipient)
	if err == nil {
		_, err = io.WriteString(w, encodeMultikey(codecSecret, k.secret.Seed()))
	}
	if err == nil {
		err = w.Close()
	}
	if err == nil {
		err = armored.Close()
	}
	if err != nil {
		return fmt.Errorf("credential: encrypting the key: %w", err)
	}
	k.sealed = out.String()
	return nil
}

// Locked says whether the key in use is encrypted and not yet unlocked.
func (r *Keyring) Locked() bool {
	last := r.keys[len(r.keys)-1]
	return last.sealed != "" && last.secret == nil
}

// Unlock decrypts the key in use. It takes about a second, on purpose.
func (r *Keyring) Unlock(passphrase []byte) error {
	last := &r.keys[len(r.keys)-1]
	if !r.Locked() {
		return nil
	}
	identity, err := age.NewScryptIdentity(string(passphrase))
	if err != nil {
		return fmt.Errorf("credential: unlocking the keyring: %w", err)
	}
	identity.SetMaxWorkFactor(sealWork + 2)
	plain, err := age.Decrypt(armor.NewReader(strings.NewReader(last.sealed)), identity)
	if err != nil {
		return fmt.Errorf("credential: unlocking the keyring: wrong passphrase, or the file is damaged: %w", err)
	}
	text, err := io.ReadAll(io.LimitReader(plain, 256))
	if err != nil {
		return fmt.Errorf("credential: unlocking the keyring: %w", err)
	}
	if last.secret, err = secretOf(string(text), last.Public); err != nil {
		return err
	}
	r.pass = bytes.Clone(passphrase)
	return nil
}

// secretOf reads a secret and checks that it belongs to its public key.
func secretOf(text string, public ed25519.PublicKey) (ed25519.PrivateKey, error) {
	seed, err := decodeMultikey(codecSecret, text)
	if err != nil {
		return nil, fmt.Errorf("credential: secret key: %w", err)
	}
	secret := ed25519.NewKeyFromSeed(seed)
	if !secret.Public().(ed25519.PublicKey).Equal(public) {
		return nil, fmt.Errorf("credential: the secret of key %s belongs to another key", EncodePublicKey(public))
	}
	return secret, nil
}

// marshal gives the ring as the text of a key file.
func (r *Keyring) marshal() ([]byte, error) {
	file := keyFile{Format: keyFileFormat, Web: r.web}
	if !r.backedUp.IsZero() {
		file.BackedUp = &r.backedUp
	}
	for i := range r.keys {
		k := &r.keys[i]
		entry := keyFileEntry{Public: k.ID(), Created: k.Created, Compromised: k.Compromised}
		switch {
		case !k.Retired.IsZero():
			entry.Retired = &k.Retired
		case r.pass != nil && k.sealed == "": // made by Rotate since
			if err := r.seal(k, sealWork); err != nil {
				return nil, err
			}
			entry.Sealed = k.sealed
		case k.sealed != "":
			entry.Sealed = k.sealed
		case k.secret != nil:
			entry.Secret = encodeMultikey(codecSecret, k.secret.Seed())
		}
		file.Keys = append(file.Keys, entry)
	}
	out, err := json.MarshalIndent(file, "", "  ")
	return append(out, '\n'), err
}

// parseKeyring reads the text of a key file.
func parseKeyring(data []byte) (*Keyring, error) {
	var file keyFile
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&file); err != nil {
		return nil, fmt.Errorf("credential: key file: %w", err)
	}
	if file.Format != keyFileFormat {
		return nil, fmt.Errorf("credential: key file: format %q, want %q", file.Format, keyFileFormat)
	}
	if len(file.Keys) == 0 {
		return nil, errors.New("credential: key file: no keys")
	}
	r := &Keyring{}
	if file.Web != "" {
		if err := r.UseWebDID(file.Web); err != nil {
			return nil, err
		}
	}
	if file.BackedUp != nil {
		r.backedUp = *file.BackedUp
	}
	for i, entry := range file.Keys {
		public, err := DecodePublicKey(entry.Public)
		if err != nil {
			return nil, fmt.Errorf("key file, key %d: %w", i+1, err)
		}
		k := Key{Public: public, Created: entry.Created, Compromised: entry.Compromised, sealed: entry.Sealed}
		last := i == len(file.Keys)-1
		switch {
		case entry.Retired != nil:
			k.Retired, k.sealed = *entry.Retired, ""
		case !last:
			return nil, fmt.Errorf("credential: key file, key %d: not retired, though a later key exists", i+1)
		case entry.Compromised:
			return nil, fmt.Errorf("credential: key file, key %d: compromised but not retired", i+1)
		case entry.Sealed == "":
			if k.secret, err = secretOf(entry.Secret, public); err != nil {
				return nil, fmt.Errorf("key file, key %d: %w", i+1, err)
			}
		}
		r.keys = append(r.keys, k)
	}
	return r, nil
}

// LoadKeyring reads a key file. One that other users of the machine can read
// is refused (where file modes mean something). A ring with a passphrase
// comes locked: it verifies, and signs after Unlock.
func LoadKeyring(path string) (*Keyring, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("credential: key file: %w", err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("credential: key file %s can be read by others (mode %04o): run chmod 600 %s",
			path, info.Mode().Perm(), path)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("credential: key file: %w", err)
	}
	r, err := parseKeyring(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return r, nil
}

// Save writes the ring to a file of mode 0600, all or nothing: a crash leaves
// the old file or the new one.
func (r *Keyring) Save(path string) error {
	data, err := r.marshal()
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".keys-*") // mode 0600
	if err != nil {
		return fmt.Errorf("credential: key file: %w", err)
	}
	defer os.Remove(tmp.Name()) // no-op once renamed
	_, err = tmp.Write(data)
	if err == nil {
		err = tmp.Sync()
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("credential: key file: %w", err)
	}
	// The rename is lasting once the folder is on disk; not every system can
	// sync a folder, and then there is nothing more to do.
	if dir, err := os.Open(filepath.Dir(path)); err == nil {
		_ = dir.Sync()
		dir.Close()
	}
	return nil
}
