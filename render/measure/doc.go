// Package measure works out the pacing of a capture from its pictures.
package measure
