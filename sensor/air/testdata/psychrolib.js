// Prints the table psychrolib.csv, from the library psychrolib 1.1.1:
//
//	npm install psychrolib@1.1.1 && node psychrolib.js > psychrolib.csv
const p = require('psychrolib');
p.SetUnitSystem(p.SI);
console.log('celsius,humidity,saturation_pa,dew_point_c,deficit_pa');
for (let c = 0; c <= 40; c += 2) {
  const es = p.GetSatVapPres(c);
  for (const percent of [5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100]) {
    const h = percent / 100;
    const dew = p.GetTDewPointFromRelHum(c, h);
    console.log([c, h, es.toFixed(4), dew.toFixed(4), (es * (1 - h)).toFixed(4)].join(','));
  }
}
