package mqtt

import (
	"fmt"
	"net"
)

// Limits of what a broker sends (our choice). The longest is a device's values, in some
// hundreds of bytes; an acknowledgement has a few bytes and a reason in words.
const (
	maxPacket  = 16 << 10 // bytes; a broker leaves out what is longer (MQTT 5 section 3.1.2.11.4)
	maxWaiting = 64       // messages that are not handled yet (MQTT 5 section 3.1.2.11.3)
)

// packetLimiter is a connection that ends where a packet announces more than maxPacket
// bytes. The length is in the fixed header (MQTT 5 section 2.1.4), so that the packet's
// reader gets the error before it allocates.
type packetLimiter struct {
	net.Conn
	body     int  // bytes of the present packet that are still to come
	inLength bool // the next byte belongs to the length
	length   int  // as read so far
	shift    uint // of the next byte of the length, in bits
}

// Read reads within one packet: its header byte by byte, then its body.
func (c *packetLimiter) Read(p []byte) (int, error) {
	if c.body > 0 {
		n, err := c.Conn.Read(p[:min(len(p), c.body)])
		c.body -= n
		return n, err
	}
	n, err := c.Conn.Read(p[:min(len(p), 1)])
	if n == 0 {
		return n, err
	}
	if !c.inLength { // the byte is the packet's type
		c.inLength, c.length, c.shift = true, 0, 0
		return n, err
	}
	c.length |= int(p[0]&0x7f) << c.shift
	c.shift += 7
	if c.length > maxPacket || c.shift > 28 { // four bytes at most
		return 0, fmt.Errorf("the broker announces a packet of %d bytes, and over %d are not taken; see that the address and the port are right", c.length, maxPacket)
	}
	if p[0]&0x80 == 0 {
		c.inLength, c.body = false, c.length
	}
	return n, err
}
