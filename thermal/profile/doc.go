// Package profile owns the prior knowledge of a species: its usual temperature, its
// bands, the durations that were published or are common practice, each with its
// source, and the level of its family. It turns these into a belief of the hatch
// model. It must not know this house, its eggs or its readings.
package profile
