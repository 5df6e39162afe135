package manual

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Each command of the topic names a test, or a benchmark, that each of its packages has.
func TestMeasuredCommandsRunTests(t *testing.T) {
	topic, ok := Find("measured")
	if !ok {
		t.Fatal("there is no topic")
	}
	found := regexp.MustCompile("`go test -(run|bench) (\\w+)(?: -run NONE)?(?: -benchtime 1x)? ([^`]+)`").FindAllStringSubmatch(topic.Markdown(), -1)
	if len(found) < 10 {
		t.Fatalf("%d commands", len(found))
	}
	for _, m := range found {
		kind := map[string]string{"run": "Test", "bench": "Benchmark"}[m[1]]
		for _, dir := range strings.Fields(m[3]) {
			files, err := filepath.Glob(filepath.Join("../../../..", dir, "*_test.go"))
			if err != nil || len(files) == 0 {
				t.Errorf("%s has no tests, %v", dir, err)
			}
			has := false
			for _, file := range files {
				text, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				has = has || regexp.MustCompile(`(?m)^func `+kind+`\w*`+m[2]).Match(text)
			}
			if !has {
				t.Errorf("%s has no %s %s", dir, kind, m[2])
			}
		}
	}
}
