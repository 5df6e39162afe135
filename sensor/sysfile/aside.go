package sysfile

import (
	"errors"
	"math"

	"example.com/ootherm/sensor"
)

// Aside reads the second quantity of a device, which must not take the first with it:
// what fails here is told beside a good temperature. The zero Aside is ready.
type Aside struct{ left <-chan struct{} } // of a read that hangs

// Number is what read gives. While an earlier read hangs, none is begun, so that they
// do not pile up and cost no poll its time twice.
func (a *Aside) Number(read func() (float64, error)) (float64, error) {
	if a.left != nil {
		select {
		case <-a.left:
			a.left = nil
		default:
			return math.NaN(), sensor.Fail(sensor.NoAnswer, "its last reading of humidity still hangs: power the probe off and on")
		}
	}
	v, err := read()
	if err == nil {
		return v, nil
	}
	var behind interface{ Left() <-chan struct{} }
	if errors.As(err, &behind) {
		a.left = behind.Left()
	}
	return math.NaN(), err
}
