package ear

var writtenModel, strangerModel = model{outBias: 3}, model{outBias: -3}
