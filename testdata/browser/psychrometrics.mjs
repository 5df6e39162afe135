// Prints moist air as another library reckons it, over 0 to 40 C and 5 to 100 %:
// Celsius, ratio, saturation Pa, dew point C, deficit Pa, absolute humidity g/m3.
import psychrolib from 'psychrolib'

psychrolib.SetUnitSystem(psychrolib.SI)
const air = 101325 // Pa
for (let c = 0; c <= 40; c++) {
  for (let percent = 5; percent <= 100; percent += 5) {
    const h = percent / 100
    const ratio = psychrolib.GetHumRatioFromRelHum(c, h, air)
    console.log([c, h, psychrolib.GetSatVapPres(c), psychrolib.GetTDewPointFromRelHum(c, h), psychrolib.GetSatVapPres(c) * (1 - h),
      1000 * ratio / psychrolib.GetMoistAirVolume(c, ratio, air)].join(','))
  }
}
