// Package scene is for tests: pictures drawn of things of known size, the kept photos with the camera
// and the faces of their truth, and photographs with known geometry made by others.
package scene
