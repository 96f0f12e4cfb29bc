package scene

import (
	"context"
	"errors"
	"sync"
)

// Memo finds out once what belongs to a key, however many ask for it and when,
// and keeps it for as long as the program runs. The zero value is empty.
type Memo[K comparable, V any] struct {
	mu    sync.Mutex
	known map[K]*remembered[V]
}

type remembered[V any] struct {
	once  sync.Once
	value V
	err   error
}

// Get returns what find found out about a key.
func (m *Memo[K, V]) Get(ctx context.Context, key K, find func() (V, error)) (V, error) {
	m.mu.Lock()
	one := m.known[key]
	if one == nil {
		if m.known == nil {
			m.known = map[K]*remembered[V]{}
		}
		one = &remembered[V]{}
		m.known[key] = one
	}
	m.mu.Unlock()
	one.once.Do(func() { one.value, one.err = find() })
	if one.err != nil && ctx.Err() == nil && errors.Is(one.err, context.Canceled) {
		// Another's cancellation is no verdict.
		return find()
	}
	return one.value, one.err
}

// Forget makes the next Get find the value anew.
func (m *Memo[K, V]) Forget(key K) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.known, key)
}
