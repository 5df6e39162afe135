package web

import (
	"cmp"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// taskView is one thing to do today, with the form that notes it.
type taskView struct {
	Icon        template.HTML
	Title, Href string
	Text        string
	State       string // what is wrong, in a word; empty: nothing
	Door        *notes.Door
}

// How many tasks are listed, and how many beside an alarm's drawing; the others are folded away (our
// choice: about as many as an alarm with its drawing is high).
const tasksListed, tasksBeside = 8, 6

// today is what to do today: eggs to look at, lay boxes, media, eggs that lie in no box.
func (s firstPage) today(n *snapshot.Snapshot, noting bool) (tasks []taskView) {
	tasks = append(tasks, s.eggTasks(n)...)
	tasks = append(tasks, s.layTasks(n)...)
	tasks = append(tasks, s.mediumTasks(n)...)
	for _, u := range s.unplaced(n) {
		t := taskView{Icon: chart.Icon(chart.Waiting), Title: u.Text, Href: u.Href}
		if u.Href != "" {
			t.Door = &notes.Door{Href: u.Href, Title: "Egg placed"}
		}
		tasks = append(tasks, t)
	}
	if !noting {
		for i := range tasks {
			tasks[i].Door = nil
			if strings.HasPrefix(tasks[i].Href, "/note") {
				tasks[i].Href = ""
			}
		}
	}
	if len(tasks) > tasksBeside { // what is late, dry or overdue is not in the fold
		slices.SortStableFunc(tasks, func(a, b taskView) int { return cmp.Compare(min(1, len(b.State)), min(1, len(a.State))) })
	}
	return tasks
}

// eggTasks are the boxes with a clutch that wants a look today, the most pressing first.
func (s firstPage) eggTasks(n *snapshot.Snapshot) (tasks []taskView) {
	type look struct {
		box string
		due []dueClutch
	}
	var looks []look
	for _, b := range n.Boxes {
		l := look{box: b.Box}
		for _, c := range b.Clutches {
			if _, rank := stateView(c); rank.stage < stageAway || fromToday(s.Site, rank, n.At) {
				l.due = append(l.due, dueClutch{c, rank})
			}
		}
		slices.SortStableFunc(l.due, func(a, b dueClutch) int { return a.rank.compare(b.rank) })
		if len(l.due) > 0 {
			looks = append(looks, l)
		}
	}
	slices.SortStableFunc(looks, func(a, b look) int { return a.due[0].rank.compare(b.due[0].rank) })
	for _, l := range looks {
		first := l.due[0]
		t := taskView{Icon: chart.Icon(chart.Waiting), Title: "Look into " + l.box, Href: page.BoxHref(l.box)}
		if len(l.due) == 1 {
			t.Href = page.ClutchHref(first.clutch.Clutch)
		}
		if first.rank.stage == stageLate {
			t.State = "late"
		}
		if slices.ContainsFunc(l.due, func(d dueClutch) bool { return d.rank.stage == stageHatching }) {
			t.Icon = chart.Icon(chart.Pipped)
		}
		t.Text = s.dueText(l.due)
		t.Door = &notes.Door{Href: page.ClutchHref(first.clutch.Clutch) + "#eggs", Title: "Note on eggs"}
		if waiting := page.Waiting(first.clutch); len(l.due) == 1 && len(waiting) == 1 {
			t.Door = &notes.Door{Href: "/note/hatched?" + url.Values{"egg": waiting}.Encode(), Title: "Hatched"}
		}
		tasks = append(tasks, t)
	}
	return tasks
}

// dueClutch is a clutch that wants a look today.
type dueClutch struct {
	clutch snapshot.Clutch
	rank   order
}

// dueText has a sentence for each state of clutches in their order. The first, of those that are
// late, follows the word late.
func (s firstPage) dueText(due []dueClutch) (text string) {
	said := -1
	for _, d := range due {
		name := strings.TrimSpace(words.OrEmpty(d.clutch.Dam) + " " + d.clutch.Clutch)
		lead, more := "", ""
		switch w := d.clutch.Window; d.rank.stage {
		case stageLate:
			more = "expected by " + s.Reader.Date(w.LateAfter)
		case stageHatching:
			lead, more = "Look now: ", hatching(d.clutch)
		case stageLook:
			lead, more = "Check daily: ", s.Reader.Likely(*w)
		case stageAway:
			lead, more = "Check from today: ", s.Reader.Likely(*w)
		}
		switch {
		case said == d.rank.stage:
			text += "; "
		case said >= 0:
			text += ". " + lead
		default:
			text += lead
		}
		text, said = text+name+", "+more, d.rank.stage
	}
	return text + "."
}

// looksNamed is how many dams are named whose lay boxes want a look (our choice): the rows of
// the lay boxes below have them all.
const looksNamed = 4

// layTasks is one task for all lay boxes that want a look today.
func (s firstPage) layTasks(n *snapshot.Snapshot) []taskView {
	text, state, named := "", "", 0
	for _, d := range s.lay(n) { // the overdue ones first: they follow that word
		switch {
		case d.rank > layLook:
			continue
		case named >= looksNamed:
		case d.rank == layOverdue:
			text, state = text+"; "+d.Name+", expected by "+s.Reader.Date(d.due.to), "overdue"
		case named > 0 && state != "" && !strings.Contains(text, ". "):
			text += ". Look today: " + d.Name + ", likely " + s.Reader.Date(d.due.likely)
		default:
			text += "; " + d.Name + ", likely " + s.Reader.Date(d.due.likely)
		}
		named++
	}
	if named == 0 {
		return nil
	}
	if more := named - looksNamed; more > 0 {
		text += "; and " + words.Count(more, "more", "more")
	}
	return []taskView{{Icon: chart.Icon(chart.Look), Title: "Look in the lay boxes", Href: "#lay", Text: strings.TrimPrefix(text, "; ") + ".", State: state,
		Door: &notes.Door{Href: "/note/found", Title: "Eggs found"}}}
}

// weighsListed is how many boxes to weigh have a task each, and how many of more are named in
// one task (our choice).
const (
	weighsListed = 3
	weighsNamed  = 6
)

// mediumTasks are the boxes that want water or a weighing today. Many weighings are one task.
func (s firstPage) mediumTasks(n *snapshot.Snapshot) (tasks []taskView) {
	var weigh []string
	for _, b := range n.Boxes {
		v := s.boxes.media.view(b, n.At)
		t := taskView{Icon: chart.Icon(chart.Water), Href: page.BoxHref(b.Box), Door: &notes.Door{Href: v.WeighHref, Title: "Weighed"}}
		switch v.rank {
		case mediumWarned:
			t.Title, t.State, t.Text = "Weigh "+b.Box+" again", "", words.Capital(v.Warning)+"."
		case mediumDry:
			t.Title, t.State, t.Text = "Water "+b.Box, "dry", "Add "+words.Range(*b.Medium.AddLow, *b.Medium.AddHigh)+", weigh first."
		case mediumWeigh:
			t.Title, t.Text = "Weigh "+b.Box, words.Capital(v.Weigh)+"."
			weigh = append(weigh, b.Box)
		default:
			continue
		}
		tasks = append(tasks, t)
	}
	slices.SortStableFunc(tasks, func(a, b taskView) int { return strings.Compare(b.State, a.State) })
	if len(weigh) <= weighsListed {
		return tasks
	}
	tasks = slices.DeleteFunc(tasks, func(t taskView) bool { return slices.Contains(weigh, strings.TrimPrefix(t.Title, "Weigh ")) })
	text := strings.Join(weigh[:min(weighsNamed, len(weigh))], ", ")
	if more := len(weigh) - weighsNamed; more > 0 {
		text += " and " + words.Count(more, "more", "more")
	}
	return append(tasks, taskView{Icon: chart.Icon(chart.Water), Title: "Weigh " + words.Count(len(weigh), "box", "boxes"), Href: "/medium", Text: text + ".",
		Door: &notes.Door{Href: "/note/weighed", Title: "Weighed"}})
}

// next says what comes next where nothing is to do today, or tomorrow.
func (s firstPage) next(n *snapshot.Snapshot) string {
	var name string
	var at time.Time
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if _, rank := stateView(c); rank.stage == stageAway && !fromToday(s.Site, rank, n.At) && (at.IsZero() || rank.at.Before(at)) {
				name, at = strings.TrimSpace(words.OrEmpty(c.Dam)+" "+c.Clutch)+" in "+b.Box, rank.at
			}
		}
	}
	if at.IsZero() {
		return ""
	}
	return "Next: " + name + ", check from " + s.Reader.Date(at) + "."
}
