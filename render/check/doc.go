// Package check judges what was read of captures, logs and scenes: what would
// fail, what would mislead an audience, and what is worth knowing.
package check

import "fairframe/render/finding"

// Finding is what a check lists.
type Finding = finding.Finding

// Severities, the worst first.
const (
	Fails    = finding.Fails
	Harms    = finding.Harms
	Misleads = finding.Misleads
	Note     = finding.Note
)
