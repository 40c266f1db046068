// Package draw makes pictures of what was measured: what a photo showed, drawn over it, and the
// leaves with their holes and sizes to scale.
package draw
