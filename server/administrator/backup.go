package administrator

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

type backupPage struct {
	Faults   map[string]string
	Manifest *store.Manifest // of the backup that was checked
	Rows     int             // in it
	Name     string          // of its file
	Wrong    string          // what is wrong with it
}

func (p *Pages) backup(c *web.Context) error {
	return c.Page(p.set, "administrator-backup", backupPage{})
}

// makeBackup answers with a backup, as it is made. It holds everybody's data and
// the hashes of passwords: the visitor's own password is asked again. One that
// breaks off is seen to by the browser, and by verifying it.
func (p *Pages) makeBackup(c *web.Context) error {
	ok, err := p.account.Confirm(c, c.Form().Raw("password"))
	if err != nil {
		return err
	}
	if !ok {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "administrator-backup",
			backupPage{Faults: map[string]string{"password": c.T("administrator.password.wrong")}})
	}
	if err := p.app.Store.RecordAudit(c.Ctx(), c.Visitor.ID, "backup.download", "backup", nil); err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, "application/zip")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="rightpage-`+c.Now().UTC().Format("2006-01-02-1504")+`.zip"`)
	h.Set(echo.HeaderCacheControl, "no-store")
	if _, err := p.app.Store.Backup(c.Ctx(), c.Response()); err != nil {
		if !c.Response().Committed {
			h.Del(echo.HeaderContentDisposition)
		}
		return broken(c, err)
	}
	return nil
}

// verifyBackup checks a backup that is uploaded, and changes nothing.
func (p *Pages) verifyBackup(c *web.Context) error {
	header, err := c.FormFile("file")
	if err != nil || header.Size == 0 {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "administrator-backup",
			backupPage{Faults: map[string]string{"file": c.T("fault.file")}})
	}
	file, err := header.Open()
	if err != nil {
		return err
	}
	defer file.Close()
	page, status := backupPage{Name: header.Filename}, http.StatusOK
	manifest, err := store.VerifyBackup(c.Ctx(), file, header.Size)
	switch quiz.ErrorCode(err) {
	case "":
		page.Manifest = &manifest
		for _, t := range manifest.Tables {
			page.Rows += int(t.Rows)
		}
	case quiz.Unavailable:
		return err
	default:
		page.Wrong, status = err.Error(), http.StatusUnprocessableEntity
	}
	return c.PageStatus(p.set, status, "administrator-backup", page)
}
