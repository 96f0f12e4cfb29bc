package scene

import (
	"context"
	"errors"
	"sync"
	"testing"
)

// TestMemo: what many ask for at once is found out once, errors are kept, and
// another's cancellation is not.
func TestMemo(t *testing.T) {
	var m Memo[string, int]
	var wg sync.WaitGroup
	runs := 0
	for range 8 {
		wg.Go(func() {
			if v, err := m.Get(t.Context(), "a", func() (int, error) { runs++; return 7, nil }); v != 7 || err != nil {
				t.Errorf("%d, %v", v, err)
			}
		})
	}
	wg.Wait()
	if runs != 1 {
		t.Errorf("found out %d times", runs)
	}
	wrong := errors.New("wrong")
	for range 2 {
		if _, err := m.Get(t.Context(), "b", func() (int, error) { runs++; return 0, wrong }); err != wrong || runs != 2 {
			t.Errorf("%v after %d runs", err, runs)
		}
	}
	if _, err := m.Get(t.Context(), "c", func() (int, error) { return 0, context.Canceled }); err == nil {
		t.Error("no error")
	}
	if v, err := m.Get(t.Context(), "c", func() (int, error) { return 9, nil }); v != 9 || err != nil {
		t.Errorf("after another's cancellation: %d, %v", v, err)
	}
}
