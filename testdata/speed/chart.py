# A frame-rate chart as a user would script it: one figure, two lines that grow by
# a point a frame, its pixels written to a pipe.
# usage: python3 chart.py NUMBERS.csv, a line a frame: the first rate, the second
import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

rows = [[float(v) for v in line.split(",")] for line in open(sys.argv[1])]
figure = plt.figure(figsize=(19.2, 3.2), dpi=100, facecolor="#12161D")
axes = figure.add_subplot(facecolor="#12161D")
axes.set_xlim(0, len(rows) / 60)
axes.set_ylim(0, 75)
axes.set_xlabel("s", color="white")
axes.set_ylabel("fps", color="white")
axes.tick_params(colors="white")
axes.grid(alpha=0.3)
lines = [axes.plot([], [], color=c, label=l)[0] for c, l in (("#E69F00", "Alder"), ("#56B4E9", "Birch"))]
axes.legend(loc="lower left")
x = []
y = [[], []]
for k, row in enumerate(rows):
    x.append(k / 60)
    for i in range(2):
        y[i].append(row[i])
        lines[i].set_data(x, y[i])
    figure.canvas.draw()
    sys.stdout.buffer.write(figure.canvas.buffer_rgba())
