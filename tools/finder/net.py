"""The finder's net, and its weights as the program reads them."""
import hashlib

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

CHANNELS = ("card", "leaf", "other card", "card corner", "hole", "leaf corner", "pin end")
MEAN, SPREAD = .45, .25  # of the picture's bytes / 255


class Step(nn.Module):
    """A 3 × 3 convolution of each channel alone, then a mixing of channels; the input is added where the shapes agree."""

    def __init__(self, i, o, stride=1):
        super().__init__()
        self.own, self.b1 = nn.Conv2d(i, i, 3, stride, 1, groups=i, bias=False), nn.BatchNorm2d(i)
        self.mix, self.b2 = nn.Conv2d(i, o, 1, bias=False), nn.BatchNorm2d(o)

    def forward(self, x):
        y = F.relu(self.b2(self.mix(F.relu(self.b1(self.own(x))))))
        return y + x if y.shape == x.shape else y


class Mix(nn.Module):
    """A mixing of channels alone."""

    def __init__(self, i, o):
        super().__init__()
        self.mix, self.b2 = nn.Conv2d(i, o, 1, bias=False), nn.BatchNorm2d(o)

    def forward(self, x):
        return self.b2(self.mix(x))


class Net(nn.Module):
    """Sees a picture of 384 × 288 pixels (or turned, or any multiple of 32); answers at half of that, a channel each of CHANNELS."""

    def __init__(self):
        super().__init__()
        self.first, self.b0 = nn.Conv2d(3, 16, 3, 2, 1, bias=False), nn.BatchNorm2d(16)
        self.down1 = nn.Sequential(Step(16, 32, 2), Step(32, 32), Step(32, 32))
        self.down2 = nn.Sequential(Step(32, 64, 2), Step(64, 64), Step(64, 64))
        self.down3 = nn.Sequential(Step(64, 128, 2), Step(128, 128), Step(128, 128), Step(128, 128))
        self.down4 = nn.Sequential(Step(128, 160, 2), Step(160, 160), Step(160, 160), Step(160, 160))
        self.up3, self.side3, self.join3 = Mix(160, 64), Mix(128, 64), Step(64, 64)
        self.up2, self.side2, self.join2 = Mix(64, 48), Mix(64, 48), nn.Sequential(Step(48, 48), Step(48, 48))
        self.up1, self.side1, self.join1 = Mix(48, 32), Mix(32, 32), nn.Sequential(Step(32, 32), Step(32, 32))
        self.last = nn.Conv2d(32, 4 * len(CHANNELS), 1)

    def forward(self, x):
        twice = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        a = F.relu(self.b0(self.first(x)))
        b = self.down1(a)
        c = self.down2(b)
        d = self.down3(c)
        e = self.down4(d)
        d = self.join3(F.relu(twice(self.up3(e)) + self.side3(d)))
        c = self.join2(F.relu(twice(self.up2(d)) + self.side2(c)))
        b = self.join1(F.relu(twice(self.up1(c)) + self.side1(b)))
        return F.pixel_shuffle(self.last(b), 2)


def fold(conv, norm):
    """Weights and offsets of a convolution and the norm behind it, as one."""
    k = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    return conv.weight * k[:, None, None, None], norm.bias - norm.running_mean * k


def weights(net):
    """All weights in the order in which they are used, as 16-bit floats, little endian: each convolution's weights (out, in, row, column), then its offsets."""
    parts = [fold(net.first, net.b0)]

    def add(m):
        if isinstance(m, nn.Sequential):
            for k in m:
                add(k)
        elif isinstance(m, Step):
            parts.extend([fold(m.own, m.b1), fold(m.mix, m.b2)])
        else:
            parts.append(fold(m.mix, m.b2))
    for m in (net.down1, net.down2, net.down3, net.down4, net.up3, net.side3, net.join3, net.up2, net.side2, net.join2, net.up1, net.side1, net.join1):
        add(m)
    parts.append((net.last.weight, net.last.bias))
    return np.concatenate([t.detach().float().cpu().numpy().ravel() for p in parts for t in p]).astype("<f2").tobytes()


def checksum(data):
    return hashlib.sha256(data).hexdigest()
