//go:build !unix

package web

import "net"

// sender gives nil: here each page has its writing done by a goroutine.
func sender(net.Conn) func([]byte) int { return nil }
