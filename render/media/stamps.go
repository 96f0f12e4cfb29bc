package media

import (
	"context"
	"slices"
	"strconv"
	"time"
)

// around is how far before and behind a stretch packets are asked for: stamps
// are reordered, and the frame on screen may have begun some time ago.
const around = time.Second

// Stamps returns the capture times of the frames that begin between from-1 s and
// to+1 s, in order, as the container stamps them. Nothing is decoded. missing
// counts packets without a stamp. Memory grows with the stretch, not with the
// capture.
func (t *Tools) Stamps(ctx context.Context, c Capture, from, to time.Duration) (stamps []time.Duration, missing int, err error) {
	begin, end := from-around, to+around
	// A seek of ffprobe's may land behind the place asked for; go well before it,
	// and to the beginning when that did not do.
	for _, back := range []time.Duration{11 * time.Second, -1} {
		start := begin - back
		if back < 0 || start < 0 {
			start = -1
		}
		stamps, missing, err = t.stamps(ctx, c, start, begin, end)
		if err != nil || start < 0 || (len(stamps) > 0 && stamps[0] <= from) {
			break
		}
	}
	slices.Sort(stamps)
	return stamps, missing, err
}

func (t *Tools) stamps(ctx context.Context, c Capture, start, begin, end time.Duration) (stamps []time.Duration, missing int, err error) {
	interval := "%" + Seek(c.FirstStamp+end.Seconds()).String()
	if start >= 0 {
		interval = Seek(c.FirstStamp+start.Seconds()).String() + interval
	}
	err = t.eachPacket(ctx, c.Path, interval, "pts_time", func(fields []string) error {
		v, err := strconv.ParseFloat(fields[0], 64)
		if err != nil {
			missing++
			return nil
		}
		if at := time.Duration((v - c.FirstStamp) * float64(time.Second)); at >= begin && at <= end {
			stamps = append(stamps, at)
		}
		return nil
	})
	return stamps, missing, err
}
