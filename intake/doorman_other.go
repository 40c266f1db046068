//go:build !unix

package intake

// limitProcess has nothing to limit with here; the parent's clock still ends the process.
func limitProcess(cpu, memory uint64) error { return nil }
