package page

import (
	"bytes"
	"encoding/json"
	"image/color"
	"image/png"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// A page that is shown without the station needs all that pages are made of.
func TestTheWorkerKeepsEveryFile(t *testing.T) {
	worker, err := file("worker.js")
	if err != nil {
		t.Fatal(err)
	}
	list, _, ok := strings.Cut(string(worker[bytes.Index(worker, []byte("fileNames = [")):]), "]")
	if !ok {
		t.Fatal("the worker has no list of files")
	}
	for name := range fileTypes {
		if has := strings.Contains(list, "'/"+name+"'"); has == (name == "worker.js") {
			t.Errorf("%s is in the worker's list: %t", name, has)
		}
	}
	if n, want := strings.Count(list, "'/"), len(fileTypes)-1; n != want {
		t.Errorf("the worker keeps %d files, and there are %d", n, want)
	}
}

// Each page has a template, and each template is a page's.
func TestTemplates(t *testing.T) {
	shared := []string{"base.html", "parts.html", "records.html"}
	found, err := files.ReadDir("templates")
	if err != nil {
		t.Fatal(err)
	}
	if len(found) != len(shared)+len(pageNames) {
		t.Errorf("%d templates, and %d pages", len(found)-len(shared), len(pageNames))
	}
	for name, template := range templates() {
		if _, err := template(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The page can be installed: its manifest names icons that are there, of the size it says.
func TestTheManifestNamesItsIcons(t *testing.T) {
	text, err := file("manifest.webmanifest")
	if err != nil {
		t.Fatal(err)
	}
	var manifest struct {
		Name     string
		StartURL string `json:"start_url"`
		Display  string
		Icons    []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.Unmarshal(text, &manifest); err != nil {
		t.Fatal(err)
	}
	if manifest.Name == "" || manifest.StartURL != "/" || manifest.Display != "standalone" {
		t.Errorf("the manifest says %+v", manifest)
	}
	mux := http.NewServeMux()
	if err := ServeFiles(mux); err != nil {
		t.Fatal(err)
	}
	var sizes []string
	for _, icon := range manifest.Icons {
		if fileTypes[strings.TrimPrefix(icon.Src, "/")] != icon.Type {
			t.Errorf("%s is not served as %s", icon.Src, icon.Type)
		}
		sizes = append(sizes, icon.Sizes)
		if icon.Type != "image/png" {
			continue
		}
		answer := httptest.NewRecorder()
		mux.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, icon.Src, nil))
		picture, err := png.Decode(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		side := picture.Bounds().Dx()
		if want := map[int]string{192: "192x192", 512: "512x512"}[side]; icon.Sizes != want {
			t.Errorf("%s is %d dots wide, and the manifest says %s", icon.Src, side, icon.Sizes)
		}
		for where, want := range map[[2]int]color.RGBA{
			{0, 0}: {0xf6, 0xf2, 0xe7, 0xff}, {16, 18}: {0xe0, 0x9a, 0x1f, 0xff}, {16, 9}: {0xff, 0xfa, 0xf0, 0xff}, {5, 21}: {0x1b, 0x23, 0x21, 0xff},
		} {
			if got := color.RGBAModel.Convert(picture.At(where[0]*side/iconUnits, where[1]*side/iconUnits)); got != want {
				t.Errorf("%s has %v at %v of %d, want %v", icon.Src, got, where, iconUnits, want)
			}
		}
	}
	for _, want := range []string{"192x192", "512x512"} {
		if !slices.Contains(sizes, want) {
			t.Errorf("no icon is %s", want)
		}
	}
}

// newer are names of scripts and of style sheets that browsers of 2019 do not know, with the
// text that asks whether the browser knows them; empty: nothing asks. The syntax of the
// scripts is parsed in TestScriptsParseInABrowserOf2019.
var newer = map[string]string{
	`\.replaceChildren\(`: "", `\.matchAll\(`: "", `\.replaceAll\(`: "", `\.allSettled\(`: "", `\.at\(`: "", `\.hasOwn\(`: "", `\bstructuredClone\(`: "", `\.findLast\(`: "",
	`\(\?<[=!]`: "", `\.timeout\(\w`: "AbortSignal.timeout ?", `:(is|where|has)\(`: "", `\b(inset|aspect-ratio|accent-color|color-mix)\b:`: "@supports not (inset: 0)", `@(layer|container)\b`: "", `\bclamp\(`: "",
}

// A browser of 2019, on an old tablet beside the boxes, shows every page: where it lacks
// something, something else is there.
func TestOlderBrowsersKnowTheScriptsAndTheStyleSheets(t *testing.T) {
	for name, kind := range fileTypes {
		if kind != css && kind != script {
			continue
		}
		text, err := file(name)
		if err != nil {
			t.Fatal(err)
		}
		for pattern, asks := range newer {
			for _, found := range regexp.MustCompile(`[^\n]*`+pattern+`[^\n]*`).FindAllString(string(text), -1) {
				if asks == "" || !strings.Contains(found, asks) {
					t.Errorf("%s: older browsers do not know this: %s", name, strings.TrimSpace(found))
				}
			}
		}
	}
}
