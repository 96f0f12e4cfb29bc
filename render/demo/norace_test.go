//go:build !race

package demo

const raced = false
