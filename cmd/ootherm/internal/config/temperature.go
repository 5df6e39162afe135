package config

// Temperature reads an absolute temperature with its unit, such as "74F" or "23.3C", and
// returns it in Celsius. The command line writes temperatures as the file does.
func Temperature(s string) (float64, error) { return celsius(s) }
