// Package alert holds the alarms: bands, delays, states and trend. It is pure:
// it reads no clock and sends nothing.
package alert
