package config

import (
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// maxKeptCopies limits the copies in a folder: twenty years of weeks (our choice).
const maxKeptCopies = 1000

// copySection reads [copy].
type copySection struct{ *table }

// read reads the section. All keys are optional.
func (t copySection) read(senders []Sender) Copy {
	c := Copy{Mail: true, Keep: defaultKeptCopies}
	days := []string{defaultCopyDay}
	for d := range time.Weekday(7) {
		if name := strings.ToLower(d.String()); name != defaultCopyDay {
			days = append(days, name)
		}
	}
	day := t.choice("day", days...)
	for d := range time.Weekday(7) {
		if strings.EqualFold(d.String(), day) {
			c.Day = d
		}
	}
	if t.node.find("mail") != nil {
		c.Mail = t.boolean("mail")
		if c.Mail && !slices.ContainsFunc(senders, func(s Sender) bool { return s.Kind == "email" }) {
			t.fault("mail", "there is no sender of the kind email that could carry it")
		}
	}
	t.asked = append(t.asked, "mail")
	c.Folder = t.text("folder")
	if c.Folder != "" && !filepath.IsAbs(c.Folder) {
		t.fault("folder", "%q depends on where the station is started; write the whole path, as /mnt/stick", c.Folder)
	}
	if n := t.integer("keep", "the number of copies to keep in the folder", 1, maxKeptCopies); n != nil {
		c.Keep = *n
		if t.node.find("folder") == nil {
			t.fault("keep", "applies to a folder: name it with folder, or remove this line")
		}
	}
	t.done()
	return c
}
