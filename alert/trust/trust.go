// Package trust reads the certificates that vouch for a server. It owns what a ca_file of a
// sender is. It must not know which sender asks.
package trust

import (
	"crypto/x509"
	"fmt"
	"os"
)

// Roots returns the certificates of a PEM file; nil, which means the system's, for an empty
// path.
func Roots(path string) (*x509.CertPool, error) {
	if path == "" {
		return nil, nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the certificates that vouch for it: %w", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("%s holds no certificate: it must be a PEM file", path)
	}
	return roots, nil
}
