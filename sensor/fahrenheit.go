package sensor

// PerKelvin is how many degrees Fahrenheit one kelvin is. A difference is scaled by it, and a
// temperature is not (NIST SP 811, appendix B.9).
const PerKelvin = 1.8

const freezing = 32 // degrees Fahrenheit at 0 °C

// FromFahrenheit gives a temperature in Celsius.
func FromFahrenheit(fahrenheit float64) float64 { return (fahrenheit - freezing) / PerKelvin }

// ToFahrenheit gives a temperature of Celsius in Fahrenheit.
func ToFahrenheit(celsius float64) float64 { return celsius*PerKelvin + freezing }
