package senders

import (
	"errors"
	"fmt"
	"net"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/shellword"
)

// HostNotFound reports that the name of a sender's host has no address. Its text says which
// key of the configuration to change, and how to try again.
type HostNotFound struct {
	text string
	err  error
}

func (h *HostNotFound) Error() string { return h.text }

func (h *HostNotFound) Unwrap() error { return h.err }

// hostNotFound gives the error of a sender whose host has no address. It is nil for any
// other error.
func hostNotFound(err error, c config.Config, path, name string) error {
	var lookup *net.DNSError
	i := slices.IndexFunc(c.Senders, func(s config.Sender) bool { return s.Name == name })
	if i < 0 || !errors.As(err, &lookup) || !lookup.IsNotFound {
		return nil
	}
	host, key := "the host "+lookup.Name, "url"
	if c.Senders[i].Kind == "email" {
		host, key = "the mail server "+lookup.Name, "host"
	}
	return &HostNotFound{fmt.Sprintf("%s was not found. Change %s in %s, then: ootherm check%s --send %s", host, key, path, configpath.Flag(path), shellword.Quote(name)), err}
}
