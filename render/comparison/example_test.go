package comparison_test

import (
	"fmt"

	"fairframe/render/comparison"
	"fairframe/render/pacing"
)

// Drop-frame timecode leaves out two labels a minute, but not every tenth minute
// (SMPTE ST 12-1).
func ExampleTimecode() {
	rate := pacing.Rate{Num: 30000, Den: 1001}
	for _, n := range []int64{1799, 1800, 17982} {
		drop, err := comparison.Timecode(n, rate, true)
		if err != nil {
			panic(err)
		}
		plain, err := comparison.Timecode(n, rate, false)
		if err != nil {
			panic(err)
		}
		fmt.Println(n, drop, plain)
	}
	n, _, err := comparison.TimecodeFrame("00:01:00;02", rate)
	fmt.Println(n, err)
	_, _, err = comparison.TimecodeFrame("00:01:00;00", rate)
	fmt.Println(err)
	// Output:
	// 1799 00:00:59;29 00:00:59:29
	// 1800 00:01:00;02 00:01:00:00
	// 17982 00:10:00;00 00:09:59:12
	// 1800 <nil>
	// comparison: "00:01:00;00" does not exist: drop-frame leaves out ;00 to ;01 in minutes that are not a multiple of ten
}
