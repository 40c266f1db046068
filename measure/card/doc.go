// Package card finds the reference card in a picture, ID-1 or printed, and fits camera and pose to
// its outline. Find is its one door.
package card
