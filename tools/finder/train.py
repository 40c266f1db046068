"""Trains the finder on pictures drawn on the spot.

    OUT=folder python3 train.py SECONDS [EXAMPLES.npz [NET.pt]]

Needs an accelerator with PyTorch and CuPy. Writes finder.bin (the weights, as measure/finder embeds them), net.pt, check.npz (a
picture and the net's answer, for the program's test in measure/finder/testdata), log.txt. Every picture is new; none is a
photograph. EXAMPLES (pictures `x`, uint8, with the card's true corners `card`, NaN where there is none, and `name`) are only looked
at, to report how many corners are found. NET.pt is a run's net.pt to go on from.
"""
import multiprocessing as mp
import os
import sys
import threading
import time

import numpy as np

import scene

OUT, LIMIT = os.environ["OUT"], float(sys.argv[1])
BATCH, NEW, KEEP, SAMPLES, POINTS, SEED = 96, 96, 24000, 10, 96, int(os.environ.get("SEED", "7"))


def chunk(first):
    """The scenes of NEW seeds and their points, as rows of kind, x, y; kind is -1 where there are no more."""
    scenes, points = np.zeros((NEW, scene.SIZE), np.float32), np.full((NEW, POINTS, 3), -1, np.float32)
    for k in range(NEW):
        scenes[k], p = scene.draw(first + k)
        points[k, :min(len(p), POINTS)] = np.array(p, np.float32).reshape(-1, 3)[:POINTS]
    return scenes, points


def found(net, examples, torch, say):
    """How many of the examples' corners have a peak of the corner map within 4 % of the card's longer side, and how many peaks there are."""
    import torch.nn.functional as F
    good, cards, peaks = {}, {}, {}
    for x, card, name in zip(examples["x"], examples["card"], examples["name"]):
        group = str(name).split("/")[0]
        t = torch.from_numpy(x).cuda().float().permute(2, 0, 1)[None] / 255
        with torch.no_grad():
            p = net((t - .45) / .25).sigmoid()[0, 3]
        top = (p == F.max_pool2d(p[None, None], 9, 1, 4)[0, 0]) & (p > .25)
        yy, xx = torch.nonzero(top, as_tuple=True)
        at = np.stack([xx.cpu().numpy() * 2 + 1, yy.cpu().numpy() * 2 + 1], 1)
        peaks.setdefault(group, []).append(len(at))
        if np.isnan(card).any():
            continue
        side = max(np.hypot(*(card[i] - card[i - 1])) for i in range(4))
        hit = sum(len(at) > 0 and np.hypot(*(at - c).T).min() < .04 * side for c in card)
        cards.setdefault(group, []).append(hit)
    for g in cards:
        h = np.array(cards[g])
        say(f"  {g}: {len(h)} cards, all four corners {np.sum(h == 4)}, three or more {np.sum(h >= 3)}, {np.mean(peaks[g]):.1f} peaks a picture")


def main():
    start = time.time()
    pool = mp.get_context("fork").Pool(max(2, (os.cpu_count() or 4) - 2))
    room = threading.Semaphore(60)  # what is drawn ahead must not fill the memory

    def seeds():
        for first in range(SEED * 10 ** 7, SEED * 10 ** 7 + 10 ** 7, NEW):
            room.acquire()
            yield first
    scenes = pool.imap(chunk, seeds())
    import cupy
    import torch
    import torch.nn.functional as F
    import net as finder
    log = open(OUT + "/log.txt", "w")

    def say(*a):
        print(*a, flush=True)
        print(*a, file=log, flush=True)
    torch.manual_seed(SEED)
    source = open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "draw.cu")).read()
    module = cupy.RawModule(code=source, backend="nvrtc", options=("--std=c++14", "--use_fast_math", "-D__CUDACC__"))
    render, label = module.get_function("render"), module.get_function("label")
    w, h = scene.W, scene.H
    rand = lambda lo, hi, *s: torch.empty(*s, device="cuda").uniform_(lo, hi)

    def photograph(rgb, seed):
        """Linear light to a phone's picture, bytes."""
        n = len(rgb)
        x = rgb.permute(0, 3, 1, 2)
        bright = torch.quantile(x.mean(1).flatten(1)[:, ::16], .8, dim=1)
        x = x * (rand(.2, .95, n, 1, 1, 1) / bright.clamp(min=.01).view(n, 1, 1, 1)) * rand(.85, 1.15, n, 3, 1, 1)
        yy, xx = torch.meshgrid(torch.linspace(-1, 1, h, device="cuda"), torch.linspace(-1.33, 1.33, w, device="cuda"), indexing="ij")
        x = x * (1 - rand(0, .2, n, 1, 1, 1) * (xx ** 2 + yy ** 2))
        x = x.clamp(0, 1.3)
        x = x / (1 + rand(0, .3, n, 1, 1, 1) * x)  # a shoulder
        x = x.clamp(0, 1) ** (1 / rand(1.8, 2.6, n, 1, 1, 1))
        x = (x - .5) * rand(.8, 1.3, n, 1, 1, 1) + .5
        soft = [F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)]
        soft.append(F.avg_pool2d(F.pad(soft[0], (2, 2, 2, 2), mode="replicate"), 5, 1))
        pick = rand(0, 1, n, 1, 1, 1)
        blur = torch.where(pick < .1, soft[1], soft[0])
        amount = torch.where(pick < .1, rand(.3, 1, n, 1, 1, 1), torch.where(pick < .45, rand(0, .8, n, 1, 1, 1), rand(-.5, 0, n, 1, 1, 1)))  # below 0: sharpened
        x = x + amount * (blur - x)
        grain = torch.randn(n, 3, h, w, device="cuda")
        coarse = F.interpolate(torch.randn(n, 3, h // 3, w // 3, device="cuda"), size=(h, w), mode="bilinear")
        x = x + grain * rand(0, .03, n, 1, 1, 1) + coarse * rand(0, .02, n, 1, 1, 1)
        return (x.clamp(0, 1) * 255).round().byte()

    def heat(points, sigma=2.0):
        """Heat maps of points, a kind each: a bell on each point, bytes."""
        across, down = torch.arange(w // 2, device="cuda") + .5, torch.arange(h // 2, device="cuda") + .5
        dx = torch.exp(-(points[:, :, 1, None] / 2 - across) ** 2 / (2 * sigma ** 2))
        dy = torch.exp(-(points[:, :, 2, None] / 2 - down) ** 2 / (2 * sigma ** 2))
        out = []
        for kind in range(len(scene.POINTS)):
            on = (points[:, :, 0] == kind).float()
            out.append((dx[:, :, None, :] * (dy * on[:, :, None])[:, :, :, None]).amax(1))
        return (torch.stack(out, 1) * 255).round().byte()

    X = torch.zeros((KEEP, 3, h, w), dtype=torch.uint8, device="cuda")
    Y = torch.zeros((KEEP, 7, h // 2, w // 2), dtype=torch.uint8, device="cuda")
    made = 0

    def more():
        nonlocal made
        s, points = next(scenes)
        room.release()
        n = len(s)
        g = cupy.asarray(s)
        rgb, m = cupy.zeros((n, h, w, 3), cupy.float32), cupy.zeros((n, 3, h // 2, w // 2), cupy.float32)
        render(((w + 15) // 16, (h + 7) // 8, n), (16, 8, 1), (g, np.int32(scene.SIZE), np.int32(w), np.int32(h), np.int32(SAMPLES), np.uint32(made + 1), rgb))
        label(((w // 2 + 15) // 16, (h // 2 + 7) // 8, n), (16, 8, 1), (g, np.int32(scene.SIZE), np.int32(w // 2), np.int32(h // 2), m))
        cupy.cuda.Stream.null.synchronize()
        at = made % KEEP
        X[at:at + n] = photograph(torch.from_dlpack(rgb), made)
        Y[at:at + n, :3] = (torch.from_dlpack(m) * 255).byte()
        Y[at:at + n, 3:] = heat(torch.from_numpy(points).cuda())
        made += n

    net = finder.Net().cuda()
    if len(sys.argv) > 3:
        net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in torch.load(sys.argv[3]).items()})
    say("weights", sum(p.numel() for p in net.parameters()))
    while made < 1920:
        more()
    say(f"first {made} pictures after {time.time() - start:.0f} s")
    if os.environ.get("SHEET"):  # to look at
        import cv2
        t = X[:48].permute(0, 2, 3, 1).cpu().numpy()
        cv2.imwrite(OUT + "/sheet.jpg", np.vstack([np.hstack(t[i:i + 6]) for i in range(0, 48, 6)])[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, 80])
    examples = np.load(sys.argv[2], allow_pickle=True) if len(sys.argv) > 2 else None
    opt = torch.optim.AdamW(net.parameters(), 3e-3, weight_decay=1e-3)
    late = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(.998))
    scale = torch.tensor([1, 1, 1, 2, 2, 1.5, 1.], device="cuda")
    step, told, losses, shares = 0, time.time(), [], []
    while True:
        gone = (time.time() - start) / LIMIT
        if gone > 1:
            break
        more()
        for g in opt.param_groups:
            g["lr"] = 3e-3 * min(1, step / 300) * (.5 * (1 + np.cos(np.pi * min(1, gone))) + .003)
        for _ in range(3):
            i = torch.randint(0, min(made, KEEP), (BATCH,), device="cuda")
            x, y = X[i].float() / 255, Y[i].float() / 255
            if np.random.rand() < .5:
                x, y = x.flip(3), y.flip(3)
            k = np.random.randint(4)
            x, y = torch.rot90(x, k, (2, 3)), torch.rot90(y, k, (2, 3))
            x = ((x - .5) * rand(.75, 1.25, BATCH, 3, 1, 1) + .5 + rand(-.1, .1, BATCH, 3, 1, 1)).clamp(0, 1)
            net.train()
            with torch.autocast("cuda", dtype=torch.bfloat16):
                p = net(((x - finder.MEAN) / finder.SPREAD).contiguous(memory_format=torch.channels_last))
            p = p.float()
            wt = torch.ones_like(y)
            wt[:, 3:] = 1 + 10 * y[:, 3:]
            bce = F.binary_cross_entropy_with_logits(p, y, weight=wt, reduction="none").mean((0, 2, 3))
            q = p.sigmoid()
            dice = 1 - (2 * (q * y).sum((0, 2, 3)) + 1) / ((q * q).sum((0, 2, 3)) + (y * y).sum((0, 2, 3)) + 1)
            loss = (bce * scale).sum() + .5 * (dice * scale).sum()
            opt.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(net.parameters(), 2)
            opt.step()
            late.update_parameters(net)
            losses.append(loss.item())
            shares.append(dice.detach().cpu().numpy())
            step += 1
        if time.time() - told > 40:
            told = time.time()
            open(OUT + "/finder.bin", "wb").write(finder.weights(late.module))  # so that a broken run leaves something
            say(f"{time.time() - start:.0f} s, {step} steps, {made} pictures, loss {np.mean(losses[-100:]):.3f}, 1 - dice " + " ".join(f"{v:.2f}" for v in np.mean(shares[-60:], 0)))
    best = late.module
    best.train()  # the averaged weights want norms of their own
    for m in best.modules():
        if isinstance(m, torch.nn.BatchNorm2d):
            m.reset_running_stats()
            m.momentum = None
    with torch.no_grad():
        for k in range(0, 4800, BATCH):
            i = torch.randint(0, min(made, KEEP), (BATCH,), device="cuda")
            x = X[i].float() / 255
            best((torch.rot90(x, k // BATCH % 4, (2, 3)) - finder.MEAN) / finder.SPREAD)
    best.eval()
    data = finder.weights(best)
    open(OUT + "/finder.bin", "wb").write(data)
    torch.save({k: v.half().cpu() for k, v in best.state_dict().items()}, OUT + "/net.pt")
    x = X[:1]
    with torch.no_grad():
        p = best((x.float() / 255 - finder.MEAN) / finder.SPREAD).sigmoid()
    np.savez_compressed(OUT + "/check.npz", picture=x[0].permute(1, 2, 0).cpu().numpy(), answer=p[0].cpu().numpy().astype(np.float32))
    say(f"{step} steps of {BATCH}, {made} pictures, loss {np.mean(losses[-300:]):.3f}, {time.time() - start:.0f} s")
    say("sha256 of finder.bin", finder.checksum(data), len(data), "bytes")
    if examples is not None:
        found(best, examples, torch, say)
    log.close()
    os._exit(0)  # the workers wait for room and need not end


if __name__ == "__main__":
    main()
