package demo

import (
	"archive/zip"
	"bytes"
	"io/fs"
	"math/rand/v2"
	"path"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
)

// invent makes the people, as they are before anybody has heard of them.
func (f *filler) invent() {
	for i, x := range staff() {
		p := &person{invented: x, asked: map[string]bool{}, tally: map[string]*tally{},
			mind: newMind(x.skill, rand.New(rand.NewPCG(f.o.Seed, uint64(1000+i))))}
		p.Person = quiz.Person{Name: x.name, Number: x.number, Locale: x.locale, Roles: x.roles, Apart: x.apart}
		f.people = append(f.people, p)
		if x.login != "" {
			f.byLogin[x.login] = p
		}
	}
}

// settle makes what is there before anything happens: the organisation, its
// people and the first revision of the catalog.
func (f *filler) settle() error {
	f.clock.set(f.day(weeksBack, 0, 7, 30))
	var err error
	var kept []quiz.Site
	for _, x := range sites {
		site := quiz.Site{Name: x.name, Zone: x.zone}
		if err = f.s.SaveSite(f.ctx, "", &site); err != nil {
			return err
		}
		kept = append(kept, site)
	}
	f.out.Sites = kept
	hash, err := quiz.DefaultPasswords().Hash(f.o.Password)
	if err != nil {
		return err
	}
	// Those who come later are added when they come.
	var newcomers []store.Newcomer
	for _, p := range f.people {
		p.Site = kept[p.site].ID
		n := store.Newcomer{Person: &p.Person, Login: p.login}
		if p.login != "" {
			n.Hash, p.Mail = hash, p.login+"@wexcombe.example"
		}
		if p.since > 0 {
			f.at(f.day(p.since, 0, 8, 0), "the arrival of "+p.name, func(time.Time) error {
				return f.s.AddPeople(f.ctx, f.coordinator, []store.Newcomer{n})
			})
			continue
		}
		newcomers = append(newcomers, n)
	}
	if err := f.s.AddPeople(f.ctx, "", newcomers); err != nil {
		return err
	}
	f.coordinator, f.manager, f.administrator = f.byLogin["rosalind"].ID, f.byLogin["desmond"].ID, f.byLogin["mirela"].ID
	// The first certificates were on trial, for three months.
	if err := f.saveSettings(3); err != nil {
		return err
	}
	if err := f.addRevision(Revisions()[0]); err != nil {
		return err
	}
	return f.putInForce(0)
}

func (f *filler) saveSettings(months int) error {
	x, err := f.s.Settings(f.ctx)
	if err != nil {
		return err
	}
	x.Organisation, x.Prefix, x.CertificateMonths = Organisation, "WX", months
	x.BaseURL = "https://training.wexcombe.example"
	x.Aim = 0.7
	x.Signatory, x.SignatoryRole = "Rosalind Ashcombe", "Training coordinator"
	return f.s.SaveSettings(f.ctx, f.administrator, &x)
}

// addRevision uploads a revision of the catalog, as the coordinator would.
func (f *filler) addRevision(folder string) error {
	data, err := zipped(f.o.Catalogs, folder)
	if err != nil {
		return err
	}
	up, err := library.ReadUpload(path.Base(folder)+".zip", data)
	if err != nil {
		return err
	}
	if up.Catalog == nil {
		return up.Report.Err()
	}
	if err := f.s.AddCatalog(f.ctx, f.coordinator, &up.Info, up.Content); err != nil {
		return err
	}
	entry, err := f.lib.Entry(f.ctx, up.Info.ID)
	if err != nil {
		return err
	}
	f.revisions = append(f.revisions, entry)
	f.out.Catalogs = append(f.out.Catalogs, up.Info)
	return nil
}

func (f *filler) putInForce(revision int) error {
	f.force = revision
	return f.s.PutInForce(f.ctx, f.coordinator, f.revisions[revision].Info.ID)
}

// zipped packs a folder; the same files give the same bytes.
func zipped(from fs.FS, folder string) ([]byte, error) {
	files, err := fs.ReadDir(from, folder)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, file := range files {
		if file.IsDir() {
			continue
		}
		data, err := fs.ReadFile(from, path.Join(folder, file.Name()))
		if err != nil {
			return nil, err
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: file.Name(), Method: zip.Deflate})
		if err == nil {
			_, err = w.Write(data)
		}
		if err != nil {
			return nil, err
		}
	}
	err = z.Close()
	return b.Bytes(), err
}
