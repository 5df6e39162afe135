package config

import (
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"
)

// mostKept bounds how many copies stay in a folder: twenty years of weeks.
const mostKept = 1000

// copying reads [copy]; every line of it may be left out.
func (f *file) copying(root *table, senders []Sender) Copy {
	c := Copy{Mail: true, Keep: defaultKeep}
	t := root.section("copy", "a section: [copy]")
	if t == nil {
		t = f.table(&node{kind: unstable.InlineTable}, "copy")
	}
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
		c.Mail = t.truth("mail")
		if c.Mail && !slices.ContainsFunc(senders, func(s Sender) bool { return s.Kind == "email" }) {
			t.fault("mail", "there is no sender of the kind email that could carry it")
		}
	}
	t.asked = append(t.asked, "mail")
	c.Folder = t.text("folder")
	if c.Folder != "" && !filepath.IsAbs(c.Folder) {
		t.fault("folder", "%q hangs on where the station is started; write it whole, as /mnt/stick", c.Folder)
	}
	if n := t.whole("keep", "how many copies stay in the folder", 1, mostKept); n != nil {
		c.Keep = *n
		if t.node.find("folder") == nil {
			t.fault("keep", "is of a folder: name it with folder, or take this line away")
		}
	}
	t.done()
	return c
}
