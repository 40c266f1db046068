// Package geom is the arithmetic below the pictures: a camera and what it sees of planes, a leaf's
// face, least squares, medians, tables. Lengths are millimetres, places in the picture pixels.
package geom
