// Command generate writes the licences of ootherm and of every module linked into it.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// The program's package, its own licence and the folder of the Go module, as seen from the
// folder of package licence.
const (
	moduleDir  = "../../../.."
	ownLicence = moduleDir + "/deploy/LICENSE"
	program    = "./cmd/ootherm"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: generate FILE")
		os.Exit(2)
	}
	text, err := generate(".")
	if err == nil {
		err = os.WriteFile(os.Args[1], text, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

// module is what go list says of a module.
type module struct {
	Path, Version, Dir string
	Main               bool
}

// generate makes the text. dir is the folder of package licence.
func generate(dir string) ([]byte, error) {
	own, err := os.ReadFile(filepath.Join(dir, ownLicence))
	if err != nil {
		return nil, err
	}
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("go env: %w", err)
	}
	modules, err := linked(filepath.Join(dir, moduleDir))
	if err != nil {
		return nil, err
	}
	modules = append([]module{{Path: "the Go standard library", Dir: strings.TrimSpace(string(goroot))}}, modules...)
	names, order := map[string][]string{}, []string{}
	for _, m := range modules {
		text, err := licenceOf(m.Dir)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.Path, err)
		}
		if names[text] == nil {
			order = append(order, text)
		}
		names[text] = append(names[text], strings.TrimSpace(m.Path+" "+m.Version))
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "ootherm is licensed under the Apache License 2.0:\n\n%s\n", own)
	fmt.Fprintf(&b, "It holds these modules, under the licences that follow them.\n")
	for _, text := range order {
		fmt.Fprintf(&b, "\n%s\n%s\n\n%s", strings.Repeat("=", 76), strings.Join(names[text], "\n"), text)
	}
	return b.Bytes(), nil
}

// linked lists the modules that are linked into the program on any architecture that it is
// packaged for, by path.
func linked(dir string) ([]module, error) {
	all := map[string]module{}
	for _, arch := range []string{"arm", "arm64", "amd64"} {
		c := exec.Command("go", "list", "-deps", "-json=Module", program)
		c.Dir = dir
		c.Env = append(os.Environ(), "GOOS=linux", "CGO_ENABLED=0", "GOARCH="+arch)
		c.Stderr = os.Stderr
		out, err := c.Output()
		if err != nil {
			return nil, fmt.Errorf("go list: %w", err)
		}
		for d := json.NewDecoder(bytes.NewReader(out)); ; {
			var p struct{ Module *module }
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return nil, err
			}
			if p.Module != nil && !p.Module.Main {
				all[p.Module.Path] = *p.Module
			}
		}
	}
	return slices.SortedFunc(maps.Values(all), func(a, b module) int { return strings.Compare(a.Path, b.Path) }), nil
}

var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice)(\.(txt|md))?$`)

// licenceOf gives the text of the licence files in a module's folder, and of the folder
// LICENSES of the REUSE specification. A module without one is an error: it may not be used.
func licenceOf(dir string) (string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return "", err
	}
	var files []string
	for _, e := range entries {
		if !e.IsDir() && licenceFile.MatchString(e.Name()) {
			files = append(files, filepath.Join(dir, e.Name()))
		}
	}
	if len(files) == 0 {
		return "", errors.New("it has no licence; use another module")
	}
	more, err := filepath.Glob(filepath.Join(dir, "LICENSES", "*.txt"))
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for i, name := range append(files, more...) {
		text, err := os.ReadFile(name)
		if err != nil {
			return "", err
		}
		if i > 0 {
			fmt.Fprintf(&b, "\n%s:\n\n", filepath.Base(name))
		}
		b.WriteString(strings.Trim(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n") + "\n")
	}
	return b.String(), nil
}
