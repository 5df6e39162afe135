package senders

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// SendTest sends a test message through one sender of the configuration at path, as [Test]
// does. It writes the result to w.
func SendTest(ctx context.Context, w io.Writer, path, name string, now func() time.Time) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	all, err := Routes(c, plan, now)
	if err != nil {
		return err
	}
	began := now()
	if err := Test(ctx, all, plan, name, now); err != nil {
		if missing := hostNotFound(err, c, path, name); missing != nil {
			return missing
		}
		return err
	}
	_, err = fmt.Fprintf(w, "%s took the test message in %s. %s\n", name, words.Span(now().Sub(began)), SeeThatItArrived)
	return err
}

// SeeThatItArrived is what a person does after a test message.
const SeeThatItArrived = "See that it arrived, and that it can be heard where it should."

// Test sends a test message by the route of a name, without its delay, quiet hours and hourly
// limit.
func Test(ctx context.Context, all []outbox.Route, plan plan.Plan, name string, now func() time.Time) error {
	i := slices.IndexFunc(all, func(r outbox.Route) bool { return r.Name == name })
	if i < 0 {
		var names []string
		for _, r := range all {
			names = append(names, r.Name)
		}
		return usererr.Usage(fmt.Errorf("no sender that carries messages is named %q; there is %s", name, words.List(names)))
	}
	at := now()
	m := alert.Message{
		ID: fmt.Sprintf("test/%d", at.Unix()), At: at, Priority: alert.Warning, Sender: name,
		Subject: words.Other + " TEST of " + plan.Name + ": all is well",
		Body:    "This is a test. Nothing is wrong: somebody wanted to see whether messages of " + plan.Name + " arrive here.\n",
	}
	if plan.URL != "" {
		m.Body += plan.URL + "\n"
	}
	ctx, cancel := context.WithTimeout(ctx, outbox.SendLimit)
	defer cancel()
	if err := permission.SudoHint(all[i].Sender.Send(ctx, m)); err != nil {
		if errors.Is(err, alert.ErrPermanent) {
			return fmt.Errorf("%s refused the test message for good: %w", name, err)
		}
		return fmt.Errorf("%s did not take the test message; an alarm would be tried again until it goes: %w", name, err)
	}
	m.ID, m.Over, m.Body = m.ID+"/over", true, "The test is over.\n"
	if _, stands := all[i].Sender.(*alertmanager.Sender); stands { // what a receiver shows until it ends
		if err := all[i].Sender.Send(ctx, m); err != nil {
			return fmt.Errorf("%s took the test message, and not that it is over: %w", name, err)
		}
	}
	return nil
}
