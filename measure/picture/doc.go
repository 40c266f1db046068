// Package picture reads an upright picture: its planes at full size and reduced, light between
// pixels, and profiles of light across edges with what a leaf's edge makes of them.
package picture
