package alert_test

import (
	"testing"

	"example.com/ootherm/alert"
)

func TestKeyText(t *testing.T) {
	for _, c := range []struct {
		key  alert.Key
		want string
	}{
		{room, "temperature-high.warning/room"},
		{alert.Key{Kind: alert.StorageFailing, Priority: alert.Critical}, "storage-failing.critical"},
		{alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Probe: "shelf"}, "probe-silent.warning/probe:shelf"},
		{alert.Key{Kind: alert.Late, Priority: alert.Notice, Zone: "egg room", Box: "B1", Probe: "p", Clutch: "S1"}, "late.notice/egg room/box:B1/probe:p/clutch:S1"},
		{alert.Key{Kind: alert.Drying, Priority: alert.Notice, Zone: "box:1", Box: "a/b", Probe: "100%", Clutch: "é\n"}, "drying.notice/box%3A1/box:a%2Fb/probe:100%25/clutch:é%0A"},
	} {
		if got := c.key.String(); got != c.want {
			t.Errorf("%#v is written %q, want %q", c.key, got, c.want)
		}
		if back, err := alert.ParseKey(c.want); err != nil || back != c.key {
			t.Errorf("%q is read as %#v, %v", c.want, back, err)
		}
	}
	for _, s := range []string{"", "x", "temperature-high", ".warning", "temperature-high.loud/room",
		"late.notice/", "late.notice/room/", "late.notice/a/b", "late.notice/box:B1/room", "late.notice/box:B1/box:B2",
		"late.notice/tray:1", "late.notice/50%", "late.notice/%zz", "late.notice/%2f", "late.notice/%41"} {
		if k, err := alert.ParseKey(s); err == nil {
			t.Errorf("%q is read as %#v", s, k)
		}
	}
}

func FuzzParseKey(f *testing.F) {
	f.Add("temperature-high.warning/room")
	f.Add("drying.notice/box%3A1/box:a%2Fb")
	f.Fuzz(func(t *testing.T, s string) {
		if k, err := alert.ParseKey(s); err == nil && k.String() != s {
			t.Errorf("%q is read as %q", s, k)
		}
	})
}
