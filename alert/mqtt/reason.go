package mqtt

import "fmt"

// reasons are the reason codes with which a broker refuses a connection or a message, or ends
// a connection (MQTT 5 sections 3.2.2.2, 3.4.2.1 and 3.14.2.1).
var reasons = map[byte]string{
	0x80: "it gives no reason",
	0x81: "a packet was malformed",
	0x82: "protocol error",
	0x83: "an error of its own",
	0x84: "it does not speak MQTT 5",
	0x85: "it refuses the name of the client",
	0x86: "wrong user or password",
	0x87: "not authorized",
	0x88: "it is not available",
	0x89: "it is busy",
	0x8a: "this client is banned",
	0x8b: "it shuts down",
	0x8c: "bad authentication method",
	0x8d: "nothing was heard of the station for too long",
	0x8e: "another client came by the same name",
	0x90: "it refuses the topic",
	0x93: "too many messages at once",
	0x95: "a packet was too large",
	0x96: "messages come too often",
	0x97: "a quota is used up",
	0x98: "its administrator ended the connection",
	0x99: "it refuses the format of the payload",
	0x9a: "it retains no messages",
	0x9b: "it does not support this quality of service",
	0x9c: "use another server",
	0x9d: "it has moved",
	0x9f: "connections come too often",
}

// reasonText names a reason code in words.
func reasonText(code byte) string {
	if text, ok := reasons[code]; ok {
		return text
	}
	return fmt.Sprintf("reason 0x%02x", code)
}
