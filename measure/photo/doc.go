// Package photo measures a photo of a hinge beside a reference card. Measure is its one door and the
// order of the steps; the other files are the steps.
package photo
