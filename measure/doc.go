// Package measure turns a photo of a hinge beside a reference card into lengths in
// millimetres with standard uncertainties, and reconciles them with what people typed.
//
// It is plain arithmetic on pictures: it opens no file, reads no clock, logs nothing,
// and gives the same numbers for the same picture every time.
package measure
