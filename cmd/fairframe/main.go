// Command fairframe renders comparison videos: the same stretch of play from
// up to four captures, side by side, with the frame-rate line and the
// frame-time graph that belong to the pictures.
//
// Run "fairframe help" for the commands and "fairframe help COMMAND" for one.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, end := context.WithCancelCause(context.Background())
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	go func() {
		by := signalled(syscall.SIGINT)
		if s, ok := (<-signals).(syscall.Signal); ok {
			by = signalled(s)
		}
		// The first signal ends the program in good order, a second one at once.
		signal.Stop(signals)
		end(by)
	}()
	// Signals are listened to until the end: one that comes when all is done changes
	// nothing any more.
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}
