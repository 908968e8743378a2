// Bridge is the yardstick of BenchmarkLine, and no part of tared: each line that
// comes from a port goes to every page, as it is. It reads the port in the quickest
// way that Go has, and does nothing else; it must stay as plain and as quick as that.
package main

import (
	"bytes"
	"fmt"
	"log"
	"net"
	"net/http"
	"os"
	"sync"
	"syscall"

	"github.com/gorilla/websocket"
	"go.bug.st/serial"
)

func main() {
	set, err := serial.Open(os.Args[1], &serial.Mode{BaudRate: 9600}) // makes it raw
	if err != nil {
		log.Fatal(err)
	}
	defer set.Close()
	port, err := os.OpenFile(os.Args[1], os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		log.Fatal(err)
	}
	var mu sync.Mutex
	pages := map[chan []byte]bool{}
	var up websocket.Upgrader
	http.HandleFunc("/live", func(w http.ResponseWriter, r *http.Request) {
		conn, err := up.Upgrade(w, r, nil)
		if err != nil {
			return
		}
		defer conn.Close()
		lines := make(chan []byte, 64)
		mu.Lock()
		pages[lines] = true
		mu.Unlock()
		for line := range lines {
			if conn.WriteMessage(websocket.TextMessage, line) != nil {
				mu.Lock()
				delete(pages, lines)
				mu.Unlock()
				return
			}
		}
	})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		log.Fatal(err)
	}
	go func() { log.Fatal(http.Serve(ln, nil)) }()
	fmt.Printf("{\"kind\":\"serving\",\"url\":\"http://%s/\"}\n", ln.Addr())

	buf := make([]byte, 4096)
	var rest []byte
	for {
		n, err := port.Read(buf)
		if err != nil {
			log.Fatal(err)
		}
		rest = append(rest, buf[:n]...)
		for {
			line, after, whole := bytes.Cut(rest, []byte("\n"))
			if !whole {
				break
			}
			line = bytes.Clone(bytes.TrimSpace(line))
			rest = rest[:copy(rest, after)]
			mu.Lock()
			for lines := range pages {
				select {
				case lines <- line:
				default: // it is slow
				}
			}
			mu.Unlock()
		}
	}
}
