package demo

import (
	"context"
	"image"
	"io"
	"runtime"
	"sync"
)

// camcorder draws frames of the game as the screen shows them: planar 4:2:0 of
// the capture's size. It serves one goroutine.
type camcorder struct {
	view         *view
	size         image.Point
	luma, chroma *scaler
	half         []uint8 // a chroma plane in columns, at half the rows
}

func newCamcorder(s *scenery, size image.Point) *camcorder {
	v, raster := newView(s), s.size
	stride := (raster.Y/2 + 7) &^ 7
	return &camcorder{
		view: v, size: size,
		luma:   newScaler(raster.X, raster.Y, v.stride, size.X, size.Y),
		chroma: newScaler(raster.X/2, raster.Y/2, stride, size.X/2, size.Y/2),
		half:   make([]uint8, raster.X/2*stride),
	}
}

// shoot draws the frame at game time g, in s, into dst.
func (c *camcorder) shoot(dst []byte, g float64) {
	v := c.view
	v.draw(g)
	n := c.size.X * c.size.Y
	c.luma.scale(dst[:n], v.y)
	for i, plane := range [][]uint8{v.u, v.v} {
		stride, rows := c.chroma.stride, v.size.Y/2
		for x := range v.size.X / 2 {
			src, half := plane[x*v.stride:][:2*rows], c.half[x*stride:][:rows]
			for y := range half {
				half[y] = uint8((uint(src[2*y]) + uint(src[2*y+1]) + 1) >> 1)
			}
		}
		c.chroma.scale(dst[n+i*n/4:][:n/4], c.half)
	}
}

// film draws a capture's frames, each new frame of the game once and several
// at a time, and writes what the capture saw at each of its own frames.
func (m *maker) film(w io.Writer, c Capture) error {
	land := m.world.paint(c.Raster, c.Size)
	ctx, cancel := context.WithCancel(m.ctx)
	workers := runtime.GOMAXPROCS(0)
	cameras := make(chan *camcorder, workers)
	for range workers {
		cameras <- newCamcorder(land, c.Size)
	}
	spare := sync.Pool{New: func() any { b := make([]byte, c.Size.X*c.Size.Y*3/2); return &b }}
	queue := make(chan chan []byte, workers) // of frames that are being drawn, in order
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	wg.Go(func() {
		defer close(queue)
		for _, f := range c.Frames {
			drawn := make(chan []byte, 1)
			select {
			case <-ctx.Done():
				return
			case queue <- drawn:
			}
			camera := <-cameras
			wg.Go(func() {
				buf := *spare.Get().(*[]byte)
				camera.shoot(buf, (f.Begin + c.Lead).Seconds())
				cameras <- camera
				drawn <- buf
			})
		}
	})
	next := func() ([]byte, error) {
		drawn, ok := <-queue
		if !ok {
			return nil, ctx.Err()
		}
		return <-drawn, nil
	}
	return m.scan(w, c, next, func(buf []byte) { spare.Put(&buf) })
}

// scan writes each captured frame: the frame on screen when it begins, and
// from its tear on whatever is swapped in before it ends.
func (m *maker) scan(w io.Writer, c Capture, next func() ([]byte, error), recycle func([]byte)) error {
	now, err := next()
	if err != nil {
		return err
	}
	torn := make([]byte, len(now))
	i := 1 // the game's next frame
	for n := range c.Count {
		end := captureRate().TimeOf(n + 1)
		out := now
		for ; i < len(c.Frames) && c.Frames[i].Begin < end; i++ {
			f, err := next()
			if err != nil {
				return err
			}
			if tear := c.Frames[i].Tear; tear == 0 {
				out = f
			} else {
				if &out[0] != &torn[0] {
					copy(torn, out)
					out = torn
				}
				paste(torn, f, c.Size, tear)
			}
			recycle(now)
			now = f
		}
		if _, err := w.Write(out); err != nil {
			return err
		}
		m.done++
		if m.o.Progress != nil {
			m.o.Progress(m.done, m.total)
		}
	}
	return nil
}

// paste copies a frame's rows from row on, which is even.
func paste(dst, src []byte, size image.Point, row int) {
	n := size.X * size.Y
	copy(dst[row*size.X:n], src[row*size.X:n])
	at := row / 2 * size.X / 2
	copy(dst[n+at:n+n/4], src[n+at:n+n/4])
	copy(dst[n+n/4+at:n+n/2], src[n+n/4+at:n+n/2])
}
