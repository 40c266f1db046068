// Package intake makes safe what a customer sent: photos admitted by an own short list,
// turned upright and stripped of location; e-mail taken apart. What was typed is read in its
// room readings.
package intake
