package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// copyOnDelay is how long a copy of the book may fail (our choice): a stick that is changed.
const copyOnDelay = time.Hour

// CopyFailing is the alarm of a book that does not leave the card.
var CopyFailing = alert.Key{Kind: alert.CopyFailing, Priority: alert.Notice}

// copies watches whether the book leaves the card.
type copies struct{}

func (copies) Kinds() []alert.Kind { return []alert.Kind{alert.CopyFailing} }

func (copies) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	if v.Health.WatchesCopies {
		limits[CopyFailing] = panel.Condition(copyOnDelay, 0, callAgainWeekly)
	}
}

func (copies) Show(v *View, p *panel.Panel) { truth(p, CopyFailing, v.Health.CopyFailing, true) }
