package shellword

import (
	"os/exec"
	"testing"
)

func TestAShellReadsTheWordsBack(t *testing.T) {
	words := []string{"book", "--dam=Sorrel", "egg room", "it's", "", `a\b`, "$HOME", "a\nb", "*", "ö"}
	out, err := exec.Command("sh", "-c", `printf '%s|' `+Join(words)).Output()
	if err != nil {
		t.Fatal(err)
	}
	want := ""
	for _, w := range words {
		want += w + "|"
	}
	if string(out) != want {
		t.Errorf("the shell read %q, want %q", out, want)
	}
}

func TestPlainWordsStayAsTheyAre(t *testing.T) {
	if got := Join([]string{"/etc/ootherm/ootherm.toml", "--at=2026-06-12T08:30"}); got != "/etc/ootherm/ootherm.toml --at=2026-06-12T08:30" {
		t.Errorf("quoted to %s", got)
	}
}
