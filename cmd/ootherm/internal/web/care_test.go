package web

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// plainly is a page without its tags, in one line.
func plainly(t *testing.T, o page.Options, target string, status int) string {
	t.Helper()
	w := get(handler(t, o), target)
	if w.Code != status {
		t.Fatalf("%s: status %d, want %d", target, w.Code, status)
	}
	var b strings.Builder
	inside := false
	for _, r := range w.Body.String() {
		switch {
		case r == '<':
			inside = true
			b.WriteByte(' ')
		case r == '>':
			inside = false
		case !inside:
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func inOrder(t *testing.T, text string, parts ...string) {
	t.Helper()
	rest := text
	for _, p := range parts {
		i := strings.Index(rest, p)
		if i < 0 {
			t.Fatalf("no %q, or not in its place, in\n%s", p, text)
		}
		rest = rest[i+len(p):]
	}
}

// A box that needs care comes first; each says what to add and no more, when to
// weigh it next, or why nothing can be said.
func TestMediumPage(t *testing.T) {
	page := plainly(t, options(season()), "/medium", 200)
	inOrder(t, page,
		"B2 ◆ weigh it again", "it is 4.0 g heavier than when set up: add nothing", "due since 7 June",
		"B1 ◆ drying out", "8-10 g (at least 20 %), now 0.75-0.8 : 1 water to dry", "Add 8-10 g (the same in ml): begin with the lower figure, never add more than the higher", "Loses per day 0.6 g", "Weigh next 13 June",
		"B3 ○ not known", "was not weighed since it was set up: weigh it", "Weigh next 10 June",
		"B4 ○ not known Open box B4 Its water nothing is noted of it")
	inOrder(t, page, "B2 ◆ weigh it again Open box B2", "B1 ◆ drying out add 8-10 g Open box B1", "B3 ○ not known weigh next 10 June Open box B3")
	boxes := elementsOf(t, get(handler(t, options(season())), "/medium")).find("details", "class=card box")
	if open := len(boxes.find("", "open")); open != 2 || len(boxes) != 9 {
		t.Errorf("%d of %d boxes are unfolded, want the 2 that need a person, of 9", open, len(boxes))
	}
	n := season()
	n.Boxes[0].Medium.WeighNext = ptr(at.Add(-time.Hour))
	n.Boxes[0].Medium.Lost, n.Boxes[0].Medium.Drying.LostShare = ptr(0.1), ptr(0.15)
	inOrder(t, plainly(t, options(n), "/medium", 200), "B1 ◆ weigh it due since 9 June Open box B1")
	n.Boxes[0].Medium.WeighNext, n.Boxes[0].Medium.Drying.LostShare = ptr(at.Add(time.Hour)), ptr(0.2)
	inOrder(t, plainly(t, options(n), "/medium", 200), "B1 ◆ probably dry: weigh it now, since it has probably dried Open box B1", "it has probably lost 1.6-2.2 g of water. In all, 20 % or more of what it began with is probably gone", "probably 0.7 g in the last day, usually 0.6 g")
	n.Boxes[0].Medium.Drying.Lost = nil
	inOrder(t, plainly(t, options(n), "/medium", 200), "Computed", "Not known: the humidity of the air was missing")
	if slices.Contains(boxes[0].inside.find("dt").texts(), "Add") {
		t.Error("a box that is heavier than it was is told what to add")
	}
	inOrder(t, plainly(t, options(season()), "/b/B1", 200), "Medium", "Add 8-10 g")
}

// What the masses of eggs leave open is no reason to weigh again: as little as the
// alarm asks for is wet enough, with more it may be drying.
func TestAMediumOfWhichTheMassesDoNotTell(t *testing.T) {
	for high, want := range map[float64]string{7.9: "B1 ● wet enough weigh next 13 June", 8: "B1 ○ may be drying weigh next 13 June"} {
		n := season()
		m := n.Boxes[0].Medium
		m.Add, m.AddLow, m.AddHigh, m.Ratio, m.Lost = ptr(high/2), ptr(0.0), &high, ptr(1-high/80), ptr(0.0)
		m.Drying = nil
		inOrder(t, plainly(t, options(n), "/medium", 200), want, "nothing yet: the loss, at most "+strings.TrimSuffix(fmt.Sprintf("%.1f", high), ".0")+" g, is too small to be sure of")
	}
}

// The alarm of a dry box says on the page how much to pour in.
func TestDryAlarmOnThePage(t *testing.T) {
	n := season()
	n.Alarms = []snapshot.Alarm{{Key: "d", Alarm: "drying", AlarmPlace: snapshot.AlarmPlace{Box: ptr("B1")}, Priority: "notice", State: "active", Since: at}}
	inOrder(t, plainly(t, options(n), "/", 200), "Box B1 drying out", "of water", "add 8-10 g", "Water B1", "Add 8-10 g, weigh first.")
	n.Alarms[0].AlarmPlace = snapshot.AlarmPlace{Zone: ptr("room")}
	inOrder(t, plainly(t, options(n), "/", 200), "Room dries its boxes fast")
	n.Alarms[0].AlarmPlace = snapshot.AlarmPlace{Box: ptr("B1")}
	n.Boxes[0].Medium.Lost = ptr(0.1) // the rest is computed
	n.Alarms[0].Detail = ptr("It has probably lost 1.6-2.2 g of water.")
	inOrder(t, plainly(t, options(n), "/", 200), "Box B1 drying out", "It has probably lost 1.6-2.2 g of water.", "Weigh B1")
	if page := elementsOf(t, get(handler(t, options(n)), "/")); page.has("dl", "class=answers") {
		t.Error("water is asked for of a box that was not weighed")
	}
	n.Boxes[0].Medium.Warning = ptr("it lost more than the 40.0 g of water it began with: weigh it again before adding any")
	if page := elementsOf(t, get(handler(t, options(n)), "/")); page.has("dl", "class=answers") {
		t.Error("water is asked for before the box is weighed again")
	}
}

func TestWaterForAFreshMedium(t *testing.T) {
	for query, c := range map[string]struct {
		status int
		words  string
	}{
		"dry=40&ratio=0.8":   {200, "32 g of water, which are 32 ml: 72 g of wet medium"},
		"dry=52,5&ratio=1":   {200, "52.5 g of water, which are 52.5 ml: 105 g of wet medium"},
		"dry=40&ratio=1:1":   {400, "1:1"},
		"dry=-40&ratio=1":    {400, "above 0"},
		"dry=NaN&ratio=1":    {400, "above 0"},
		"dry=40&ratio=10000": {400, "up to 20"},
		"dry=40":             {400, "The ratio is missing; write a number above 0, up to 20."},
		"dry=abc&ratio=1":    {400, "How much water? The dry medium is &#34;abc&#34;; write"},
	} {
		if page := plainly(t, options(season()), "/medium?"+query, c.status); !strings.Contains(page, c.words) {
			t.Errorf("%s: no %q in\n%s", query, c.words, page)
		}
	}
}

// The first page says in one line whose lay box wants a look today, and below when
// each is due; an overdue female is a matter for a vet, said once and plainly.
func TestLayBoxesOnTheFirstPage(t *testing.T) {
	page := plainly(t, options(season()), "/", 200)
	inOrder(t, page,
		"Look in the lay boxes", "overdue: Lovage, expected by 3 June. Look today: Sorrel, likely 10 June.",
		"Lay boxes", "Lovage ◆ overdue since 3 Jun", "A female straining or overdue: a reptile vet the same day.",
		"Sorrel ◆ look today to 18 Jun likely 10 Jun",
		"Tansy 17 Jun-14 Jul likely 29 Jun",
		"Hyssop ○ note her pairing or a clutch")
	if strings.Count(page, "reptile vet") != 1 {
		t.Error("a female that is not overdue is sent to a vet")
	}

	n := season()
	n.Dams[0].LastLook = &n.At
	n.Dams = n.Dams[:2]
	page = plainly(t, options(n), "/", 200)
	inOrder(t, page, "Sorrel ● looked today")
	if strings.Contains(page, "Look in the lay boxes") {
		t.Error("who looked today is asked to look again")
	}
	n.Dams = []snapshot.Dam{}
	if w := elementsOf(t, get(handler(t, options(n)), "/")); w.has("", "id=lay") {
		t.Error("a room without dams has lay boxes")
	}
}

// Of many lay boxes that want a look the first are named: the rows below have them all.
func TestManyLayBoxesAreOneTask(t *testing.T) {
	n := season()
	dam := n.Dams[0]
	n.Dams = nil
	for i := range 7 {
		dam.Dam = fmt.Sprintf("D%d", i+1)
		n.Dams = append(n.Dams, dam)
	}
	page := plainly(t, options(n), "/", 200)
	inOrder(t, page, "Look in the lay boxes D1, likely 10 June; D2, likely 10 June; D3, likely 10 June; D4, likely 10 June; and 3 more.", "Lay boxes", "D7")
}

// Many boxes to weigh are one task: what else is to do today stays in sight.
func TestManyWeighingsAreOneTask(t *testing.T) {
	due := func(boxes int) string {
		n := season()
		m := *n.Boxes[0].Medium
		m.WeighNext, m.Lost = ptr(at.Add(-time.Hour)), ptr(0.1)
		n.Boxes = nil
		for i := range boxes {
			b := box(fmt.Sprintf("W%d", i+1), "room", "")
			b.Medium = &m
			n.Boxes = append(n.Boxes, b)
		}
		return plainly(t, options(n), "/", 200)
	}
	inOrder(t, due(3), "Weigh W1", "Weigh W2", "Weigh W3")
	page := due(8)
	inOrder(t, page, "Weigh 8 boxes W1, W2, W3, W4, W5, W6 and 2 more.")
	if strings.Contains(page, "Weigh W1") {
		t.Error("each of many boxes has a task of its own")
	}
}
