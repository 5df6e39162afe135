// Package profile is what is known of a species beforehand: its usual
// temperature, its bands, the durations that were published or are common
// practice, each with its source, and where its family stands.
package profile
