package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// senderOnDelay is how long a sender may fail (our choice): a mail server that is busy is no
// alarm yet.
const senderOnDelay = 15 * time.Minute

// SenderFailing is the alarm of a sender that delivers nothing.
func SenderFailing(sender string) alert.Key {
	return alert.Key{Kind: alert.SenderFailing, Priority: alert.Warning, Part: sender}
}

// senders watches whether messages get out.
type senders struct{}

func (senders) Kinds() []alert.Kind { return []alert.Kind{alert.SenderFailing} }

func (senders) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, x := range v.Health.Senders {
		if v.Health.WatchesSenders {
			limits[SenderFailing(x.Name)] = panel.Condition(senderOnDelay, 0, callAgainDaily)
		}
	}
}

// Show says nothing of a sender that was not tried since the start.
func (senders) Show(v *View, p *panel.Panel) {
	for _, x := range v.Health.Senders {
		truth(p, SenderFailing(x.Name), x.Failing, x.Tried)
	}
}
