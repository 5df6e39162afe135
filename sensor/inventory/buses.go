package inventory

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hwmon"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/iio"
	"example.com/ootherm/sensor/sysfile"
)

// i2c looks on the I2C buses, at the addresses alone where a part can be that
// this program reads.
func (s *Scan) i2c(ctx context.Context, p Places) {
	devices, err := filepath.Glob(filepath.Join(p.I2C, "i2c-*"))
	if err != nil || len(devices) == 0 {
		s.trouble("there is no I2C bus", "sudo raspi-config nonint do_i2c 0 && sudo modprobe i2c-dev")
		return
	}
	for _, device := range devices {
		if s.foreign(p, device) {
			continue
		}
		bus, err := p.Open(device)
		switch {
		case errors.Is(err, fs.ErrPermission):
			s.trouble("this user may not use "+device, "sudo usermod -aG i2c $USER, then log in again")
			continue
		case err != nil:
			s.trouble(fmt.Sprintf("%s does not open: %v", device, err), "sudo modprobe i2c-dev")
			continue
		}
		s.closes = append(s.closes, bus.Close)
		for address := uint16(0x08); address <= 0x77; address++ {
			if ctx.Err() == nil {
				s.address(ctx, p, bus, device, address)
			}
		}
	}
}

// foreign reports whether a bus is none for probes: that of a monitor or of the
// mainboard, where a stray command can do harm.
func (s *Scan) foreign(p Places, device string) bool {
	name, err := os.ReadFile(filepath.Join(p.I2CSys, filepath.Base(device), "name"))
	if err != nil {
		return false // nothing is known against it
	}
	for _, word := range []string{"SMBus", "HDMI", "DDC", "AUX", "i915", "NVIDIA", "AMDGPU", "radeon"} {
		if strings.Contains(strings.ToLower(string(name)), strings.ToLower(word)) {
			return true
		}
	}
	return false
}

// address tries every part that can be at an address of a bus.
func (s *Scan) address(ctx context.Context, p Places, bus i2c.Bus, device string, address uint16) {
	written := fmt.Sprintf("0x%02x", address)
	var able []string
	for _, d := range catalog.Drivers() {
		if d.First != 0 && address >= d.First && address <= d.Last {
			able = append(able, d.Name)
		}
	}
	if len(able) == 0 {
		return
	}
	digits := strings.TrimPrefix(filepath.Base(device), "i2c-")
	if kernel, err := os.Readlink(filepath.Join(p.I2CSys, fmt.Sprintf("%s-%04x", digits, address), "driver")); err == nil {
		s.trouble(fmt.Sprintf("%s on %s belongs to the kernel's driver %s", written, device, filepath.Base(kernel)), "nothing: it is read below as iio or hwmon, if that driver measures warmth")
		return
	}
	answered := false
	for _, name := range able {
		f := Found{Settings: catalog.Settings{Driver: name, Bus: device, Address: written}}
		var err error
		f.probe, err = catalog.Open(f.Settings, &catalog.Bus{I2C: bus})
		if err != nil {
			continue // it cannot be there
		}
		if got := Measure(ctx, f.probe); got.Err != nil {
			answered = answered || sensor.CauseOf(got.Err) != sensor.NoAnswer
			continue
		}
		if name == "sht3x" && humid(bus, address) {
			continue // it understands the same commands
		}
		s.Found = append(s.Found, f)
		return
	}
	if answered {
		s.trouble(fmt.Sprintf("something at %s on %s answers, but not as a %s", written, device, strings.Join(able, ", ")), "see what is printed on the part; i2cdetect -y "+digits+" lists all that answer")
	}
}

// humid reports whether the part is an HDC302x, which names its maker (0x3781
// gives 0x3000; HDC302x data sheet SNAS778, from memory). An SHT3x knows no such
// command.
func humid(bus i2c.Bus, address uint16) bool {
	id := make([]byte, 3)
	if bus.Tx(address, []byte{0x37, 0x81}, id) != nil {
		return false
	}
	maker, err := i2cbus.Word(0xFF, id)
	return err == nil && maker == 0x3000
}

// w1 lists the thermometers on 1-Wire.
func (s *Scan) w1(p Places) {
	const overlay = "echo dtoverlay=w1-gpio | sudo tee -a /boot/firmware/config.txt, then sudo reboot"
	entries, err := os.ReadDir(p.W1)
	if err != nil {
		s.trouble("there is no 1-Wire bus", overlay)
		return
	}
	bus, found, phantom, others := false, false, false, false
	for _, e := range entries {
		id := e.Name()
		bus = bus || strings.HasPrefix(id, "w1_bus_master")
		phantom = phantom || strings.HasPrefix(id, "00-")
		if other := ds18b20.Other(id); other != "" {
			others = true
			s.trouble(id+" on 1-Wire is "+other, "nothing: it is passed over")
			continue
		}
		f := Found{Settings: catalog.Settings{Driver: "ds18b20", Address: id}}
		if p.W1 != ds18b20.Root {
			f.Path = p.W1
		}
		if f.probe, err = ds18b20.New(id, p.W1, nil); err != nil {
			continue // another kind of part, or the bus itself
		}
		found = true
		s.Found = append(s.Found, f)
	}
	switch {
	case phantom:
		s.trouble("the 1-Wire bus shows parts that are none (00-...)", "put a resistor of 4.7 kOhm from its data line to 3.3 V")
	case found:
	case others:
		s.trouble("1-Wire works, and no thermometer is on it", "see the three wires of the thermometer itself, if there is one")
	case bus:
		s.trouble("a 1-Wire bus is there, but no thermometer on it answers", "see its three wires and the 4.7 kOhm from data to 3.3 V; the data line is GPIO 4 unless the overlay says otherwise")
	default:
		s.trouble("there is no 1-Wire bus", overlay)
	}
}

// iio lists the kernel's devices that measure warmth.
func (s *Scan) iio(ctx context.Context, p Places) {
	s.kernel(ctx, p.IIO, []string{"in_temp_input", "in_temp_raw"}, nil, Found{Settings: catalog.Settings{Driver: "iio"}}, func(dir string) sensor.Probe { return &iio.Probe{Device: dir} })
}

// hwmon lists the kernel's hardware monitors but for those of the machine
// itself, and those read elsewhere.
func (s *Scan) hwmon(ctx context.Context, p Places) {
	own := []string{"cpu_thermal", "rpi_volt", "rp1_adc", "pwmfan", "coretemp", "k10temp", "acpitz", "nvme", "drivetemp", "iwlwifi", "w1_slave_temp"}
	s.kernel(ctx, p.Hwmon, []string{"temp1_input"}, own, Found{Settings: catalog.Settings{Driver: "hwmon"}}, func(dir string) sensor.Probe { return &hwmon.Probe{Device: dir} })
}

// kernel lists the devices below a root that have one of the files.
func (s *Scan) kernel(ctx context.Context, root string, files, own []string, as Found, open func(dir string) sensor.Probe) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return // not every kernel has it, and nothing may need it
	}
	names := map[string]int{}
	var found []Found
	for _, e := range entries {
		dir := filepath.Join(root, e.Name())
		if !slices.ContainsFunc(files, func(f string) bool { _, err := os.Stat(filepath.Join(dir, f)); return err == nil }) {
			continue
		}
		within, cancel := context.WithTimeout(ctx, Patience)
		text, err := sysfile.Reader(nil).Text(within, filepath.Join(dir, "name"))
		cancel()
		if name := strings.TrimSpace(text); err == nil && !slices.Contains(own, name) {
			if strings.ContainsFunc(name, unicode.IsControl) {
				name = "" // no configuration can hold it: the directory stays
			}
			f := as
			f.Device, f.Path, f.probe = name, dir, open(dir)
			names[name]++
			found = append(found, f)
		}
	}
	for _, f := range found {
		switch {
		case names[f.Device] > 1, f.Device == "":
			f.Device = "" // the name says too little; the directory stays
		case root == iio.Root || root == hwmon.Root:
			f.Path = "" // the kernel numbers its devices as they appear: the name lasts
		default:
			f.Path = root
		}
		s.Found = append(s.Found, f)
	}
}
