// Package locate finds where on the table a hinge may lie, good to a millimetre or two: on a map of
// the table seen from straight above, by areas that don't look like the ground or by lines.
package locate
