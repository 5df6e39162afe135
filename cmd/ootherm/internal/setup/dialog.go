package setup

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"golang.org/x/sys/unix"
)

// dialog asks the questions of a setup. Its methods check an answer and ask again where it
// cannot be used.
type dialog struct{ *prompt.Session }

// askOr asks a question; Enter alone gives the default answer.
func (t *dialog) askOr(question, usual string) (string, error) {
	answer, err := t.Ask(fmt.Sprintf("%s [%s]", question, usual))
	if err == nil && answer == "" {
		answer = usual
	}
	return answer, err
}

// askChoice asks for one of several words. The first is the default; the beginning of a
// word is enough, in capitals or not.
func (t *dialog) askChoice(question string, choices ...string) (string, error) {
	for {
		answer, err := t.askOr(question+" ("+strings.Join(choices, ", ")+")", choices[0])
		if err != nil || slices.Contains(choices, answer) {
			return answer, err
		}
		for _, fits := range []func(choice string) bool{
			func(c string) bool { return strings.EqualFold(c, answer) },
			func(c string) bool { return strings.HasPrefix(strings.ToLower(c), strings.ToLower(answer)) },
		} {
			if i := slices.IndexFunc(choices, fits); i >= 0 {
				return choices[i], nil
			}
		}
		t.Say("%q is none of these.", answer)
	}
}

// askName asks for the name of a station, zone, probe or sender, until the configuration
// takes it.
func (t *dialog) askName(question, usual, section string) (string, error) {
	header := "[[" + section + "]]\n"
	if section == "station" {
		header = "[station]\n"
	}
	for {
		answer, err := t.askOr(question, usual)
		if err != nil || answer == "-" || !t.hasFault(header+"name = "+config.Quote(answer)+"\n", section, "name") {
			return answer, err
		}
	}
}

// askFolder asks for a folder that can be made or written. The path must be absolute: the
// station runs in another working folder than setup, and no shell expands the file.
func (t *dialog) askFolder(question, usual string) (string, error) {
	for {
		answer, err := t.askOr(question, usual)
		switch {
		case err != nil:
			return "", err
		case !filepath.IsAbs(answer):
			t.Say("Write the full path, beginning with /, as /var/lib/ootherm; %q has none.", answer)
		case fileInPath(answer) != "":
			t.Say("%s is a file, and no folder; name another.", fileInPath(answer))
		case writeError(answer) != nil:
			t.Say("This user may not write in %s; name another, or run setup with sudo.", answer)
		default:
			return answer, nil
		}
	}
}

// askStationValue asks for a value of [station], until the configuration takes it. An
// empty answer leaves it out.
func (t *dialog) askStationValue(question, key string) (string, error) {
	for {
		answer, err := t.Ask(question)
		if err != nil || answer == "" || !t.hasFault("[station]\n"+key+" = "+config.Quote(answer)+"\n", "station") {
			return answer, err
		}
	}
}

// hasFault reports whether a part of a configuration has a fault, and shows each fault. It
// looks at the keys of one section, or at those named. Faults of other sections do not
// count, because the rest of the file does not exist yet.
func (t *dialog) hasFault(text, section string, only ...string) bool {
	_, err := config.Parse("", []byte(text), probeconfig.Drivers())
	var faults config.Faults
	found := err != nil && !errors.As(err, &faults)
	if found {
		t.Say("  %v.", err)
	}
	for _, f := range faults {
		key, ours := strings.CutPrefix(f.Key, section+".")
		if ours && (len(only) == 0 || slices.Contains(only, key)) || f.Key == "" {
			t.Say("  Not accepted: %s.", strings.TrimSpace(key+" "+f.Why))
			found = true
		}
	}
	return found
}

// fileInPath gives the first file in a path, from its end, where a folder has to be. It is
// empty where there is none.
func fileInPath(path string) string {
	for ; path != filepath.Dir(path); path = filepath.Dir(path) {
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			return path
		}
	}
	return ""
}

// writeError gives the error of writing in a folder. Where the folder does not exist, it
// tries the folder above.
func writeError(path string) error {
	err := unix.Access(path, unix.W_OK)
	for errors.Is(err, unix.ENOENT) && path != filepath.Dir(path) {
		path = filepath.Dir(path)
		err = unix.Access(path, unix.W_OK)
	}
	return err
}
