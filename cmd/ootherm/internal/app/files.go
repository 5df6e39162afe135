package app

import (
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/history"
)

// CheckedFile checks a file and ends the program, in a child that the station
// started for that; otherwise it returns at once. Main calls it first.
func CheckedFile() {
	storage.CheckMain(map[string][]storage.Verify{storage.ReadingsName: {history.Verify}})
}
