// Package notice turns the events of a step into messages. It owns which events share a
// message and what a message says, with one row of texts for each kind of alarm (kinds.go).
// It is pure: it must not know the station, a sensor, a store or a sender.
package notice
