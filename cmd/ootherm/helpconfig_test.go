package main

import (
	"regexp"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/manual"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
)

// Every example of the configuration names keys that there are.
func TestConfigurationInTheTexts(t *testing.T) {
	n := 0
	for name, text := range pages(t) {
		for _, m := range fences.FindAllStringSubmatch(text, -1) {
			if m[1] != "toml" {
				continue
			}
			n++
			_, err := config.Parse(name, []byte(m[2]), probeconfig.Drivers())
			if err != nil && (strings.Contains(err.Error(), "is not known") || strings.Contains(err.Error(), "belongs to")) {
				t.Errorf("%s: %v\n%s", name, err, m[2])
			}
		}
	}
	if n < 8 {
		t.Errorf("only %d examples of the configuration found", n)
	}
}

// sectionTexts returns what the manual says about each section of the configuration.
func sectionTexts(t *testing.T) map[string]string {
	t.Helper()
	all := pages(t)
	sections := map[string]string{}
	for _, part := range strings.Split(all["configuration"], "\n## ")[1:] {
		head, body, _ := strings.Cut(part, "\n")
		sections[strings.Trim(head, "[]")] = body
	}
	sections["copy"] += all["data-and-copies"]
	sections["profile"] += all["species"]
	sections["sender"] += all["senders"]
	sections["probe"] += all["wiring"]
	return sections
}

// sectionHeads are the sections with what must stand in them before a key is read.
func sectionHeads() map[string]string {
	return map[string]string{"station": "[station]\n", "copy": "[copy]\n", "zone": "[[zone]]\n", "probe": "[[probe]]\n",
		"profile": "[[profile]]\n", "sender": "[[sender]]\nkind = \"lamp\"\n"}
}

// namesKey reports whether a text names a key, alone or with a value.
func namesKey(text, key string) bool {
	return strings.Contains(text, "`"+key+"`") || strings.Contains(text, "`"+key+" = ")
}

// The tables of the topic on the configuration hold no key that there is not.
func TestTablesOfTheConfiguration(t *testing.T) {
	topic, ok := manual.Find("configuration")
	if !ok {
		t.Fatal("no topic configuration")
	}
	row := regexp.MustCompile("(?m)^\\| ((?:`[a-z_]+`(?:, )?)+) ?")
	n := 0
	for _, part := range strings.Split(topic.Markdown(), "\n## ")[1:] {
		section := strings.Trim(strings.SplitN(part, "\n", 2)[0], "[]")
		for _, key := range codeSpans.FindAllStringSubmatch(strings.Join(row.FindAllString(part, -1), "\n"), -1) {
			n++
			_, err := config.Parse("test", []byte(sectionHeads()[section]+key[1]+" = 1\n"), probeconfig.Drivers())
			if err != nil && strings.Contains(err.Error(), section+"."+key[1]+": is not known") {
				t.Errorf("[%s] has no key %s: %v", section, key[1], err)
			}
		}
	}
	if n < 40 {
		t.Errorf("only %d keys found", n)
	}
}

// The manual names every key of a section. An unknown key is answered with those that
// are known.
func TestKeysOfTheConfiguration(t *testing.T) {
	texts := sectionTexts(t)
	known := regexp.MustCompile(`(?m)\.qqqqqqqq: is not known here; known are (.+)$`)
	for section, head := range sectionHeads() {
		_, err := config.Parse("test", []byte(head+"qqqqqqqq = 1\n"), probeconfig.Drivers())
		m := known.FindStringSubmatch(err.Error())
		if m == nil {
			t.Errorf("[%s] does not tell its keys: %v", section, err)
			continue
		}
		for _, key := range strings.Split(m[1], ", ") {
			if !namesKey(texts[section], key) {
				t.Errorf("the key %s of [%s] is named nowhere", key, section)
			}
		}
	}
}

// The manual names every driver and kind of sender, with the keys of each.
func TestDriversAndKindsOfTheConfiguration(t *testing.T) {
	texts := sectionTexts(t)
	for section, variants := range map[string][]config.Variant{"probe": probeconfig.Drivers(), "sender": config.Kinds()} {
		for _, v := range variants {
			for _, key := range append([]string{v.Name}, v.Keys...) {
				if !namesKey(texts[section], key) {
					t.Errorf("%s of %s in [[%s]] is named nowhere", key, v.Name, section)
				}
			}
		}
	}
}
